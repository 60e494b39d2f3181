import type { Vec3 } from '../foundation/vector.js';
import type { LesionMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import { Surface } from '../geometry/surface.js';
import type { PrintPackage } from './assemble-package.js';
import { type PrintRules, toleranceFor } from './process.js';

/** Which structure of the print a point belongs to, and the tolerance there. */
export interface Region {
  name: string;
  toleranceMm: number;
  isTag: boolean;
}

/** Finds the structure whose surface lies nearest to a point of the print; of one surface of the whole, the vessel it runs along. */
export function regionFinder({
  parts,
  lesion,
  rules,
}: {
  parts: PrintPackage['parts'];
  lesion: LesionMeasure;
  rules: PrintRules;
}): (p: Vec3) => Region {
  const size = new Map(lesion.vessels.map((v) => [v.name, v.calibreMm.mean]));
  const tolerance = (mm: number | undefined): number =>
    mm === undefined ? rules.toleranceMm : toleranceFor(rules, mm).toleranceMm;
  const model = parts.find((p) => p.role === 'model')!;
  const split = parts.filter((p) => p.role !== 'model' && !BESIDE.has(p.role));
  const pieces = (split.length > 0 ? split : [model]).map((part) => ({
    region: {
      name: part.name,
      toleranceMm: tolerance(part.role === 'sac' ? lesion.sac?.axesMm[2] : size.get(part.name)),
      isTag: part.role === 'tag',
    },
    isWhole: part.role === 'whole' || part.role === 'model',
    surface: new Surface(part.mesh, ORIGIN),
  }));
  const courses = lesion.vessels
    .filter((v) => v.centrelineMm.length > 1)
    .map((v) => ({
      reachMm: ALONG * v.calibreMm.max,
      line: new Polyline(v.centrelineMm),
      region: { name: v.name, toleranceMm: tolerance(v.calibreMm.mean), isTag: false },
    }));
  return (point) => {
    let best = pieces[0];
    let nearest = Number.POSITIVE_INFINITY;
    if (pieces.length > 1)
      for (const piece of pieces) {
        const hit = piece.surface.closest(point, nearest);
        if (hit && hit.distance < nearest) [best, nearest] = [piece, hit.distance];
      }
    if (!best.isWhole) return best.region;
    const along = courses.find(({ line, reachMm }) => line.project(point).distanceMm <= reachMm);
    return along?.region ?? best.region;
  };
}

const ORIGIN: Vec3 = [0, 0, 0];
/** A point of one whole surface belongs to a vessel up to this multiple of its largest calibre from its centreline. */
const ALONG = 0.7;
/** Structures that are printed beside the fused model. */
const BESIDE: ReadonlySet<string> = new Set(['airway', 'heart', 'chest-wall']);
