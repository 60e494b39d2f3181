import type { CrossSection, Manifold } from 'manifold-3d/manifold';
import { add, scale, type Vec3 } from '../foundation/vector.js';
import { type CutPlane, inPlane, planeAxes } from './cut-plane.js';
import { LEAST_ISLAND_MM2, wallOf } from './joint.js';
import type { PrintJob } from './print-job.js';
import { type KeptFree, leavesFree } from './struts.js';

/** Places tried on the outline of each region of the cut. */
const PLACES = 48;
/** Extra width of a lug beyond socket and wall, to allow for facets, mm. */
const MARGIN_MM = 0.15;
/** Height of a lug on the side of the peg's foot, mm. */
const FOOT_SIDE_MM = 2.5;
/** Least volume that each side of a lug shares with the wall it is on, mm³. */
const LEAST_HOLD_MM3 = 1.5;
/** Heights at which the lumen must not enter a lug, as fractions of its height. */
const LEVELS = [-0.1, 0, 0.25, 0.5, 0.75, 1];
const CORNERS = 48;

/**
 * Lugs on the outside of a hollow model, across the cut, with room for a peg and its socket: up to two for each region of the cut, far
 * apart, clear of the lumen, check points and tags. Their pegs are made with all others.
 */
export function lugsAcross(
  job: PrintJob,
  model: { outside: Manifold; lumen: Manifold },
  plane: CutPlane,
  free: KeptFree,
): Manifold[] {
  const { peg } = job.rules;
  const diameterMm = Math.max(peg.leastMm, LEAST_MM);
  const bore = diameterMm / 2 + peg.fitMm;
  const radius = bore + wallOf(job) + MARGIN_MM;
  const heightMm = peg.lengthRatio * diameterMm + 2 * peg.fitMm + wallOf(job) + MARGIN_MM;
  const outside = inPlane(job, model.outside, plane);
  const lumen = inPlane(job, model.lumen, plane);
  const face = outside.slice(0);
  const islands = face.decompose().filter((island) => island.area() >= LEAST_ISLAND_MM2);
  const lugs: Manifold[] = [];
  for (const island of islands) {
    const shape = { radius, heightMm, island, outside, lumen };
    const found = outlineOf(island, bore).flatMap((at) => lugAt(job, plane, at, shape, free) ?? []);
    lugs.push(...farthestTwo(found, 2 * radius).map((lug) => lug.solid));
  }
  for (const section of [face, ...islands]) section.delete();
  return lugs;
}

/** Smallest diameter of a lug's peg, mm, because it is handled. */
const LEAST_MM = 2.5;

interface Lug {
  at: [number, number];
  solid: Manifold;
}

/** Points evenly spaced along the outside of a region, `away` mm from it. */
function outlineOf(island: CrossSection, away: number): [number, number][] {
  const grown = island.offset(away, 'Round');
  const outlines = grown.toPolygons() as [number, number][][];
  grown.delete();
  const lengthOf = (ring: readonly [number, number][]): number =>
    ring.reduce((sum, p, i) => {
      const q = ring[(i + 1) % ring.length];
      return sum + Math.hypot(q[0] - p[0], q[1] - p[1]);
    }, 0);
  const ring = outlines.sort((a, b) => lengthOf(b) - lengthOf(a))[0] ?? [];
  const total = lengthOf(ring);
  const points: [number, number][] = [];
  let walked = 0;
  ring.forEach((p, i) => {
    const q = ring[(i + 1) % ring.length];
    const step = Math.hypot(q[0] - p[0], q[1] - p[1]);
    while (points.length < PLACES && walked + step >= (points.length / PLACES) * total) {
      const f = step > 0 ? ((points.length / PLACES) * total - walked) / step : 0;
      points.push([p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])]);
    }
    walked += step;
  });
  return points;
}

function lugAt(
  job: PrintJob,
  plane: CutPlane,
  [x, y]: [number, number],
  shape: { radius: number; heightMm: number; island: CrossSection; outside: Manifold; lumen: Manifold },
  free: KeptFree,
): Lug | undefined {
  const { workshop } = job;
  const { radius, heightMm, outside, lumen } = shape;
  const cylinder = (from: number, to: number): Manifold =>
    workshop.bar([x, y, from], [x, y, to], radius, CORNERS);
  const { u, v, n } = planeAxes(plane);
  const inModel = (z: number): Vec3 => add(plane.point, add(scale(n, z), add(scale(u, x), scale(v, y))));
  for (const side of [1, -1] as const) {
    const [low, high] = side === 1 ? [-FOOT_SIDE_MM, heightMm] : [-heightMm, FOOT_SIDE_MM];
    const ends = { at: inModel(low), to: inModel(high) };
    if (!free.gauges.every((g) => leavesFree(g, ends, radius))) continue;
    if (LEVELS.some((f) => meetsDisc(job, lumen, side * f * heightMm, [x, y], radius))) continue;
    const holds = [cylinder(low, 0), cylinder(0, high)].every(
      (half) => workshop.intersection(half, outside).volume() >= LEAST_HOLD_MM3,
    );
    if (!holds) continue;
    const solid = workshop.bar(ends.at, ends.to, radius, CORNERS);
    if (free.solids.some((s) => workshop.intersection(s, solid).volume() > 0)) continue;
    return { at: [x, y], solid };
  }
  return undefined;
}

/** Whether a section of the lumen enters a disc. */
function meetsDisc(
  job: PrintJob,
  lumen: Manifold,
  z: number,
  [x, y]: [number, number],
  radius: number,
): boolean {
  const { CrossSection } = job.workshop.kernel;
  const section = lumen.slice(z);
  const disc = CrossSection.circle(radius, CORNERS).translate([x, y]);
  const common = section.intersect(disc);
  const meets = common.area() > 1e-3;
  for (const part of [section, disc, common]) part.delete();
  return meets;
}

/** The two farthest apart, or one if no two are `leastMm` apart. */
function farthestTwo(lugs: readonly Lug[], leastMm: number): Lug[] {
  let best = lugs.slice(0, 1);
  let most = leastMm;
  for (let i = 0; i < lugs.length; i++) {
    for (let j = i + 1; j < lugs.length; j++) {
      const apart = Math.hypot(lugs[i].at[0] - lugs[j].at[0], lugs[i].at[1] - lugs[j].at[1]);
      if (apart > most) [best, most] = [[lugs[i], lugs[j]], apart];
    }
  }
  return best;
}
