import { distance, normalize, subtract, type Vec3 } from '../../foundation/vector.js';
import type { VesselMeasure } from '../../geometry/measure.js';
import type { Surface } from '../../geometry/surface.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { type GaugeDraft, type GaugeInput, LONGEST_MM } from './gauge.js';
import { tipsAreFree } from './jaws.js';

const MOST_BETWEEN_ENDS = 6;
const MOST_TO_SAC = 2;
const SHORTEST_MM = 10;
/** How far a tip is moved to find the largest reading, and the accuracy, mm. */
const ABOUT_MM = 3;
const FOUND_MM = 0.005;

/**
 * Largest distances between the rims of far ends, and from a rim to the sac, the longest first.
 *
 * `sacPoints`: the corners of the print's outside over the sac, x0 y0 z0 x1 ..., mm
 */
export function spans(input: GaugeInput, sacPoints: Float64Array, printed: Surface): GaugeDraft[] {
  const vessels = input.lesion.vessels.filter((v) => v.centrelineMm.length > 1);
  const rims = vessels.map((v) => rimOf(v, input.outside, input.wallMm));
  const between = (from: Float64Array, to: Float64Array, what: string): GaugeDraft[] => {
    const pair = farthestPair(from, to);
    if (!pair) return [];
    const expectedMm = distance(...pair);
    if (expectedMm > LONGEST_MM || expectedMm < SHORTEST_MM) return [];
    if (!tipsAreFree(printed, ...pair, normalize(subtract(pair[1], pair[0])))) return [];
    if (!isLargestAbout(printed, ...pair) || !isLargestAbout(printed, pair[1], pair[0])) return [];
    return [
      {
        kind: 'span',
        what: `${what}: the largest reading.`,
        point: pair[0],
        to: pair[1],
        expectedMm,
        notToSize: false,
      },
    ];
  };
  const rim = (i: number): string => `Span from the rim of ${vessels[i].name}'s far end to the`;
  const ends = vessels.flatMap((_, i) =>
    vessels
      .slice(i + 1)
      .flatMap((other, k) => between(rims[i], rims[i + 1 + k], `${rim(i)} rim of ${other.name}'s far end`)),
  );
  const toSac = vessels.flatMap((v, i) =>
    v.role === 'branch' ? [] : between(rims[i], sacPoints, `${rim(i)} farthest point of the sac`),
  );
  const longest = (drafts: GaugeDraft[], most: number): GaugeDraft[] =>
    drafts.sort((a, b) => b.expectedMm - a.expectedMm).slice(0, most);
  return [...longest(ends, MOST_BETWEEN_ENDS), ...longest(toSac, MOST_TO_SAC)];
}

/** Whether nothing printed around a tip is farther from the other tip, so that there is a largest reading to find. */
function isLargestAbout({ positions }: Surface, from: Vec3, to: Vec3): boolean {
  const farthest = distance(from, to) + FOUND_MM;
  let isThere = false;
  const [x, y, z] = to;
  for (let p = 0; p < positions.length; p += 3) {
    const dx = positions[p] - x;
    const dy = positions[p + 1] - y;
    const dz = positions[p + 2] - z;
    const off = Math.sqrt(dx * dx + dy * dy + dz * dz);
    if (off > ABOUT_MM) continue;
    if (distance([positions[p], positions[p + 1], positions[p + 2]], from) > farthest) return false;
    isThere ||= off < FOUND_MM;
  }
  return isThere;
}

/** Rim of a vessel's far end on the print: its corners near the end of the centreline. */
function rimOf(vessel: VesselMeasure, { positions }: TriangleMesh, wallMm: number): Float64Array {
  const [tip] = vessel.centrelineMm;
  const calibre = vessel.profile[0]?.maxMm ?? vessel.calibreMm.mean;
  const reach = 0.75 * calibre + wallMm + (vessel.profile[0]?.atMm ?? 0) + 0.5;
  return within(positions, tip, 0, reach);
}

/** Points between two distances from a place. */
function within(points: Float64Array, centre: Vec3, least: number, most: number): Float64Array {
  const kept: number[] = [];
  for (let p = 0; p < points.length; p += 3) {
    const x = points[p] - centre[0];
    // most points are too far along one axis alone
    if (Math.abs(x) > most) continue;
    const d = Math.hypot(x, points[p + 1] - centre[1], points[p + 2] - centre[2]);
    if (d >= least && d <= most) kept.push(points[p], points[p + 1], points[p + 2]);
  }
  return Float64Array.from(kept);
}

/** The two points farthest apart, one from each set; exact. */
function farthestPair(from: Float64Array, to: Float64Array): [Vec3, Vec3] | undefined {
  if (from.length === 0 || to.length === 0) return undefined;
  // No pair is longer than the path through the middle of `from`, so points too close to it for a longer pair are skipped.
  const middle = [0, 1, 2].map((k) => {
    let sum = 0;
    for (let p = k; p < from.length; p += 3) sum += from[p];
    return (3 * sum) / from.length;
  }) as Vec3;
  const farFrom = (points: Float64Array, place: Vec3): Vec3 => {
    let best: Vec3 = place;
    let most = -1;
    for (let p = 0; p < points.length; p += 3) {
      const d =
        (points[p] - place[0]) ** 2 + (points[p + 1] - place[1]) ** 2 + (points[p + 2] - place[2]) ** 2;
      if (d > most) [most, best] = [d, [points[p], points[p + 1], points[p + 2]]];
    }
    return best;
  };
  const radius = distance(middle, farFrom(from, middle));
  const known = distance(farFrom(from, farFrom(to, middle)), farFrom(to, middle));
  const far = within(to, middle, known - radius - 1e-9, Number.POSITIVE_INFINITY);
  let best: [Vec3, Vec3] | undefined;
  let most = -1;
  for (let p = 0; p < from.length; p += 3) {
    const a: Vec3 = [from[p], from[p + 1], from[p + 2]];
    const b = farFrom(far, a);
    const d = distance(a, b);
    if (d > most) [most, best] = [d, [a, b]];
  }
  return best;
}
