import type { Vec3 } from '../foundation/vector.js';
import type { LesionMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import { signedDistanceTo } from '../geometry/register/surface-distance.js';
import { Surface } from '../geometry/surface.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { PrintPackage } from './assemble-package.js';
import { isBeside } from './printed-part.js';
import { diameterTolerance, spanTolerance, type ToleranceBasis } from './tolerance.js';

/** The structure of the print that a point belongs to, and the tolerance there. */
export interface Region {
  name: string;
  toleranceMm: number;
  /** `extra`: a tag or strut, which the print may have lost; `lumen`: the inside of a hollow print, which a scan cannot see. */
  kind: 'lesion' | 'extra' | 'lumen';
}

export interface RegionInput {
  /** The fused model and its structures, print coordinates. */
  parts: PrintPackage['parts'];
  /** Print coordinates, print scale. */
  lesion: LesionMeasure;
  tolerances: ToleranceBasis;
  /** For a hollow print: its wall, and the surfaces of the lesion, print coordinates. */
  hollow?: { wallMm: number; lumen: readonly TriangleMesh[] };
}

const ORIGIN: Vec3 = [0, 0, 0];
/** With one whole surface, a point belongs to a vessel up to this multiple of its largest calibre from the centreline. */
const ALONG = 0.7;

/** Finds the structure whose surface is nearest to a point of the print; with one body for the whole, the vessel at the point. */
export function regionFinder({ parts, lesion, tolerances, hollow }: RegionInput): (p: Vec3) => Region {
  const size = new Map(lesion.vessels.map((v) => [v.name, v.calibreMm.mean]));
  const other = spanTolerance(tolerances, 0).toleranceMm;
  const tolerance = (calibreMm: number | undefined): number =>
    calibreMm === undefined ? other : diameterTolerance(tolerances, calibreMm).toleranceMm;
  const model = parts.find((p) => p.role === 'model')!;
  const split = parts.filter((p) => p.role !== 'model' && p.role !== 'half' && (p.isHeld || !isBeside(p)));
  const pieces = (hollow || split.length === 0 ? [model] : split).map((part) => ({
    region: {
      name: part.name,
      toleranceMm: tolerance(size.get(part.name)),
      kind: part.role === 'tag' || part.role === 'strut' ? ('extra' as const) : ('lesion' as const),
    },
    isWhole: part.role === 'whole' || part.role === 'model',
    surface: new Surface(part.mesh, ORIGIN),
  }));
  const courses = lesion.vessels
    .filter((v) => v.centrelineMm.length > 1)
    .map((v) => ({
      reachMm: ALONG * v.calibreMm.max + (hollow?.wallMm ?? 0),
      line: new Polyline(v.centrelineMm),
      region: { name: v.name, toleranceMm: tolerance(v.calibreMm.mean), kind: 'lesion' as const },
    }));
  const lumen = hollow?.lumen.map((mesh) => new Surface(mesh, ORIGIN)) ?? [];
  const isLumen = (point: Vec3): boolean =>
    lumen.some((surface) => signedDistanceTo(surface, point) < hollow!.wallMm / 2);
  return (point) => {
    if (isLumen(point)) return { name: 'lumen', toleranceMm: other, kind: 'lumen' };
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
