import { add, cross, distance, perpendicular, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import { type SurfaceDistances, surfaceDistances } from '../geodesic.js';
import { Polyline } from '../polyline.js';
import { extendAlong, refineCentreline } from '../refine-centreline.js';
import { type Ring, ringsAlongPath } from '../rough-path.js';
import { sectionAt } from '../section.js';
import { median } from '../statistics.js';
import type { Surface } from '../surface.js';
import { type Peak, peaksOf } from './peaks.js';
import { type InnerBall, widestPlace } from './widest-place.js';

/** A possible end of a vessel of a fused surface. Local coordinates of the surface, mm. */
export interface FarEnd {
  /** A, B …, by distance along the surface, the farthest from the widest place first. */
  letter: string;
  /** On the vessel's axis, a little inside its end. */
  at: Vec3;
  /** Equivalent calibre at about one calibre inside the end. */
  calibreMm: number;
  /** Direction out of the vessel along its axis. */
  direction: Vec3;
  /** `open`: the surface was open here (or still is); `flat`: it ends in a plane; `round`: neither; `cut`: it continues. */
  kind: 'open' | 'flat' | 'round' | 'cut';
  /** The vertex of its tip. */
  vertex: number;
}

export interface EndsOf {
  /** The largest ball inside: its centre and radius; usually in the sac. Absent if none fits. */
  widest?: InnerBall;
  ends: FarEnd[];
  /** True if vessels leave one wider place or fork, as in a fused blood pool. */
  isBranched: boolean;
}

/** Numerical settings, in calibres or radii. No clinical meaning. */
const ENDS = {
  /** The wall connected to the widest place within this many of its radii is not a vessel. */
  bodyReach: 1.25,
  /** Share of the longest path below which a peak is unevenness of the wall. */
  leastHeight: 0.02,
  /** A vessel protrudes by at least this many of its calibres. */
  leastCalibres: 0.7,
  ringsPerRadius: 5,
  /** Number of consecutive rings that must agree within this ratio to give the calibre. */
  steadyRings: 6,
  steadyRatio: 1.25,
  /** The rings just behind the cap are tilted towards it, so this many calibres are skipped. */
  behindCap: 0.5,
  /** A section this many times as wide as the surrounding rings contains more than the vessel. */
  ownSection: 1.5,
  /** Two peaks closer than this many calibres are one tip. */
  oneTip: 1,
  /** Length of vessel behind its end that is examined, in calibres. */
  stretch: 3,
  /** Depth of the proposed point inside the end, in calibres, and at most mm. */
  depth: 0.25,
  depthMostMm: 1,
  /** A flat end has normals within this cosine of the axis where rays at this fraction of the calibre around it hit it. */
  flatCosine: 0.93,
  flatAround: 0.3,
  flatRays: 8,
  flatLeast: 6,
  /** A fused pool has a place at least this much wider than its widest vessel, or three ends. */
  widerThanVessel: 1.4,
} as const;

/**
 * The far ends of the vessels of one surface, open, flat or rounded, and its widest place. An end is a place farthest along
 * the surface from the widest place (shortest paths over the edges), protruding by about a calibre or more; its calibre is that of a
 * section perpendicular to the axis one calibre inside.
 *
 * Limits: a stump shorter than its calibre is taken for a bulge, and a bulge longer than wide for an end. The surface is not changed.
 */
export function farEnds(surface: Surface, widest: InnerBall | undefined = widestPlace(surface)): EndsOf {
  if (!widest) return { ends: [], isBranched: false };
  const ends = endsFrom(surface, surfaceDistances(surface, bodyAround(surface, widest)));
  const thickest = Math.max(...ends.map((end) => end.calibreMm));
  const isBranched =
    ends.length >= 3 || (ends.length === 2 && 2 * widest.radiusMm > ENDS.widerThanVessel * thickest);
  return { widest, ends, isBranched };
}

/** The places farthest along the surface from the start of its distances, farthest first. */
export function endsFrom(surface: Surface, distances: SurfaceDistances): FarEnd[] {
  let farthest = 0;
  for (const d of distances.distanceMm) if (d > farthest && d < Number.POSITIVE_INFINITY) farthest = d;
  const peaks = peaksOf(surface, distances.distanceMm, ENDS.leastHeight * farthest);
  const found = peaks.flatMap((peak) => {
    const end = endAt(surface, distances, peak);
    return end ? [{ ...end, farMm: peak.distanceMm, vertex: peak.vertex }] : [];
  });
  found.sort((a, b) => b.farMm - a.farMm || a.vertex - b.vertex);
  return oncePerTip(found).map(({ at, calibreMm, direction, kind, vertex }, i) => ({
    letter: letterOf(i),
    at,
    calibreMm,
    direction,
    kind,
    vertex,
  }));
}

/** The ends without those within a calibre of an earlier one, such as two corners of one cap or ragged tip. */
function oncePerTip<T extends Pick<FarEnd, 'at' | 'calibreMm'>>(ends: readonly T[]): T[] {
  const kept: T[] = [];
  for (const end of ends) {
    const isKnown = kept.some(
      ({ at, calibreMm }) => distance(at, end.at) < ENDS.oneTip * Math.max(calibreMm, end.calibreMm),
    );
    if (!isKnown) kept.push(end);
  }
  return kept;
}

/** A, B … Z, AA, AB … */
export function letterOf(index: number): string {
  let text = '';
  for (let n = index + 1; n > 0; n = Math.floor((n - 1) / 26)) {
    text = String.fromCharCode(65 + ((n - 1) % 26)) + text;
  }
  return text;
}

/** Connected vertices of the wall around the widest place. */
function bodyAround(surface: Surface, { centre, radiusMm }: InnerBall): number[] {
  const { triangles, twin } = surface;
  const first = surface.closest(centre)!.triangle;
  const reach = ENDS.bodyReach * radiusMm;
  const isSource = new Uint8Array(surface.vertexCount);
  const seen = new Uint8Array(surface.triangleCount);
  seen[first] = 1;
  const waiting = [first];
  isSource[triangles[3 * first]] = 1;
  for (let t = waiting.pop(); t !== undefined; t = waiting.pop()) {
    let isNear = t === first;
    for (let k = 0; k < 3; k++) {
      const v = triangles[3 * t + k];
      if (distance(surface.vertex(v), centre) > reach) continue;
      isSource[v] = 1;
      isNear = true;
    }
    for (let k = 0; isNear && k < 3; k++) {
      const next = twin[3 * t + k] < 0 ? -1 : (twin[3 * t + k] / 3) | 0;
      if (next < 0 || seen[next]) continue;
      seen[next] = 1;
      waiting.push(next);
    }
  }
  const sources: number[] = [];
  for (let v = 0; v < isSource.length; v++) if (isSource[v]) sources.push(v);
  return sources;
}

function endAt(
  surface: Surface,
  distances: SurfaceDistances,
  peak: Peak,
): Omit<FarEnd, 'letter' | 'vertex'> | undefined {
  const rough = ringsAlongPath(surface, distances, peak.vertex, peak.distanceMm / 60);
  const guess = steadyFrom(rough);
  if (!guess || peak.heightMm < ENDS.leastCalibres * guess.calibreMm) return undefined;
  const step = Math.min(peak.distanceMm / 60, guess.calibreMm / 2 / ENDS.ringsPerRadius);
  const fine = ringsAlongPath(surface, distances, peak.vertex, step);
  const steady = steadyFrom(fine);
  if (!steady || peak.heightMm < ENDS.leastCalibres * steady.calibreMm) return undefined;
  const { calibreMm } = steady;
  const count = (calibres: number): number => Math.ceil((calibres * calibreMm) / step);
  const from = Math.max(0, Math.min(steady.from + count(ENDS.behindCap), fine.length - count(1)));
  const stretch = fine.slice(from, from + count(ENDS.stretch));
  const centred = refineCentreline(
    surface,
    stretch.map((r) => r.centre),
    calibreMm,
  );
  if (!centred) return undefined;
  const { line } = centred;
  const out = scale(line.directionAt(0, 0.8 * centred.calibreMm), -1);
  const beyond = extendAlong(
    surface,
    line.points[0],
    out,
    centred.calibreMm,
    (s) => s.equivalentMm > 0.9 * centred.calibreMm,
  );
  const whole = new Polyline([...beyond.reverse(), ...line.points]);
  const direction = scale(whole.directionAt(0.5 * centred.calibreMm, 1.2 * centred.calibreMm), -1);
  const hit = surface.raycast(whole.points[0], direction, 2 * centred.calibreMm);
  const tip = hit?.point ?? whole.points[0];
  const inside = whole.pointAt(Math.min(whole.lengthMm, centred.calibreMm));
  const section = sectionAt(surface, inside, scale(direction, -1));
  // a section across a junction or along a flat vessel's width is not that of this end
  const isOwn = section && section.equivalentMm <= ENDS.ownSection * steady.calibreMm;
  const own = isOwn ? section.equivalentMm : Math.min(centred.calibreMm, steady.calibreMm);
  const depth = Math.min(ENDS.depthMostMm, ENDS.depth * own);
  return {
    at: subtract(tip, scale(direction, depth)),
    calibreMm: own,
    direction,
    kind: kindOf(surface, whole.points[0], direction, own, hit?.triangle),
  };
}

/** The first rings that agree; those before them are on the vessel's cap and smaller. */
function steadyFrom(rings: readonly Ring[]): { from: number; calibreMm: number } | undefined {
  for (let i = 0; i + ENDS.steadyRings <= rings.length; i++) {
    const radii = rings.slice(i, i + ENDS.steadyRings).map((r) => r.radiusMm);
    if (Math.max(...radii) <= ENDS.steadyRatio * Math.min(...radii))
      return { from: i, calibreMm: 2 * median(radii) };
  }
  return undefined;
}

function kindOf(
  surface: Surface,
  from: Vec3,
  direction: Vec3,
  calibreMm: number,
  onAxis: number | undefined,
): FarEnd['kind'] {
  if (onAxis === undefined || surface.isCap[onAxis]) return 'open';
  const u = perpendicular(direction);
  const v = cross(direction, u);
  const back = subtract(from, scale(direction, 0.5 * calibreMm));
  let flat = 0;
  for (let i = 0; i < ENDS.flatRays; i++) {
    const angle = (2 * Math.PI * i) / ENDS.flatRays;
    const aside = add(scale(u, Math.cos(angle)), scale(v, Math.sin(angle)));
    const start = add(back, scale(aside, ENDS.flatAround * calibreMm));
    const hit = surface.raycast(start, direction, 3 * calibreMm);
    if (hit && surface.facing(hit.triangle, direction) >= ENDS.flatCosine) flat++;
  }
  return flat >= ENDS.flatLeast ? 'flat' : 'round';
}
