import { distance, normalize, subtract, type Vec3 } from '../foundation/vector.js';
import { Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { cheapestSpread } from '../grid/cheapest-spread.js';
import { placeMm } from '../grid/even-grid.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import { depthsOf, SOFT_HU } from './opacified.js';
import { beside, gathered, type GreyRegion, stepOf } from './scan-region.js';
import { calibreAt, centredAt } from './tube-section.js';

/** A stretch of an opacified vessel between two junctions, or between a junction and an end; places mm LPS, on its axis. */
export interface Tube {
  from: Vec3;
  /** The end away from the sac, or from the requested place. */
  to: Vec3;
  calibreMm: number;
  lengthMm: number;
  /** Unit vector from `from` to `to`. */
  direction: Vec3;
  /** It continues past `to`, beyond the range of the search or the scan. */
  goesOn: boolean;
  joinsSac: boolean;
  lumenHu: number;
  /** Its distance from the requested place. */
  nearestMm: number;
  line: Vec3[];
}

export interface TubesFound {
  /** Value at the place, HU. */
  hu: number;
  /** Value of the brightest vessel nearby; undefined if nothing there is opacified. */
  lumenHu?: number;
  /** Threshold of the places followed, HU. */
  levelHu?: number;
  /** The wide body at the place, if the place was stated to be in the sac. */
  sac?: { at: Vec3; widthMm: number };
  tubes: Tube[];
}

/** How far from a place an opacified vessel is searched for, mm: a point read from a slice is in the vessel or next to it. */
const BESIDE_MM = 8;
/** Vessels within this distance of a place are listed with it, mm. */
const NEAR_MM = 15;
/** Excess over soft tissue at which a place counts as opacified, HU: common practice, no source. */
const LEAST_CONTRAST_HU = 100;
/** Anything brighter than the lumen by this is bone, calcium or metal, HU. */
const TOO_BRIGHT_HU = 200;
const LEAST_LENGTH_MM = 5;
const MOST_TUBES = 24;
/** Ratio of depth to that of a vessel above which a place belongs to the sac. */
const WIDER = 1.35;

/**
 * Opacified vessels around a place (mm LPS) of a scan, for finding points: structures above the half level between soft tissue and lumen,
 * connected to the place (`isSac`) or passing near it, as axes with calibres. The calibre is at the half level between the axis and its
 * surroundings, by rays across. For orientation, not for measuring.
 *
 * Axes      cheapest paths from the ends, farthest first, where deeper steps cost less (after Sato et al., TEASAR, Pacific Graphics 2000,
 *           from memory)
 */
export function tubesNear(volume: GreyVolume, at: Vec3, reachMm: number, isSac: boolean): TubesFound {
  const hu = valueAt(volume, ...at);
  const region = regionAbout(volume, at, reachMm);
  const lumenHu = isSac ? lumenInside(region, at) : lumenBeside(region, at);
  if (lumenHu === undefined) return { hu, tubes: [] };
  const levelHu = (SOFT_HU + lumenHu) / 2;
  const isIn = (place: number): boolean => region.grey[place] >= levelHu;
  const depth = depthsOf(region, isIn);
  const seen = new Uint8Array(region.grey.length);
  const roots = isSac ? [nearestIn(region, at, isIn, BESIDE_MM)] : placesNear(region, at, isIn, NEAR_MM);
  const tubes: Tube[] = [];
  let sac: TubesFound['sac'];
  for (const first of roots) {
    if (first === undefined || seen[first]) continue;
    const places = gathered(region, first, seen, isIn);
    const start = isSac ? deepestAbout(region, depth, first) : farthestFrom(region, places, first);
    if (isSac) sac = { at: placeMm(region, start), widthMm: 2 * (depth[start] + region.stepMm / 2) };
    for (const way of branches(region, depth, places, start))
      tubes.push(
        ...tubeOf(way, {
          region,
          depth,
          volume,
          at,
          reachMm,
          lumenHu,
          sacDepthMm: isSac ? depth[start] : undefined,
        }),
      );
  }
  const kept = tubes
    .filter((tube) => isSac || tube.nearestMm <= NEAR_MM)
    .sort((a, b) =>
      isSac
        ? Number(b.joinsSac) - Number(a.joinsSac) || b.calibreMm - a.calibreMm
        : a.nearestMm - b.nearestMm,
    );
  return { hu, lumenHu, levelHu, ...(sac && { sac }), tubes: kept.slice(0, MOST_TUBES) };
}

/** The scan within a cube around a place. */
function regionAbout(volume: GreyVolume, at: Vec3, reachMm: number): GreyRegion {
  const stepMm = stepOf(volume);
  const half = Math.ceil(reachMm / stepMm);
  const size: [number, number, number] = [2 * half + 1, 2 * half + 1, 2 * half + 1];
  const originMm = at.map((x) => x - half * stepMm) as Vec3;
  const grey = new Float32Array(size[0] * size[1] * size[2]).fill(Number.NaN);
  let n = 0;
  for (let x = -half; x <= half; x++)
    for (let y = -half; y <= half; y++)
      for (let z = -half; z <= half; z++, n++)
        if (Math.hypot(x, y, z) * stepMm <= reachMm)
          grey[n] = valueAt(volume, at[0] + x * stepMm, at[1] + y * stepMm, at[2] + z * stepMm);
  return { originMm, stepMm, size, grey };
}

/** The lumen's value if the place is inside it: median within 2 mm. */
function lumenInside(region: GreyRegion, at: Vec3): number | undefined {
  const values = valuesAbout(region, at, 2);
  const value = values.length > 0 ? median(values) : Number.NaN;
  return value >= SOFT_HU + LEAST_CONTRAST_HU ? value : undefined;
}

/** The brightest value near a place that is not bone: one that only a few places exceed. */
function lumenBeside(region: GreyRegion, at: Vec3): number | undefined {
  const values = valuesAbout(region, at, BESIDE_MM)
    .filter((value) => value >= SOFT_HU + LEAST_CONTRAST_HU && value < 600)
    .sort((a, b) => b - a);
  return values.length < 8 ? undefined : values[Math.floor(values.length / 10)];
}

function valuesAbout(region: GreyRegion, at: Vec3, radiusMm: number): number[] {
  const values: number[] = [];
  eachWithin(region, at, radiusMm, (place) => {
    if (!Number.isNaN(region.grey[place])) values.push(region.grey[place]);
  });
  return values;
}

function eachWithin(
  region: GreyRegion,
  at: Vec3,
  radiusMm: number,
  visit: (place: number, mm: number) => void,
): void {
  const { originMm, stepMm, size } = region;
  const low = at.map((x, d) => Math.max(0, Math.ceil((x - radiusMm - originMm[d]) / stepMm)));
  const high = at.map((x, d) => Math.min(size[d] - 1, Math.floor((x + radiusMm - originMm[d]) / stepMm)));
  for (let x = low[0]; x <= high[0]; x++)
    for (let y = low[1]; y <= high[1]; y++)
      for (let z = low[2]; z <= high[2]; z++) {
        const place = (x * size[1] + y) * size[2] + z;
        const mm = distance(placeMm(region, place), at);
        if (mm <= radiusMm) visit(place, mm);
      }
}

function nearestIn(
  region: GreyRegion,
  at: Vec3,
  isIn: (place: number) => boolean,
  mostMm: number,
): number | undefined {
  return placesNear(region, at, isIn, mostMm)[0];
}

/** The followed places within a radius, the nearest first. */
function placesNear(
  region: GreyRegion,
  at: Vec3,
  isIn: (place: number) => boolean,
  mostMm: number,
): number[] {
  const found: [number, number][] = [];
  eachWithin(region, at, mostMm, (place, mm) => {
    if (isIn(place)) found.push([place, mm]);
  });
  return found.sort((a, b) => a[1] - b[1] || a[0] - b[0]).map(([place]) => place);
}

/** The deepest place nearby, reached by steps of increasing depth. */
function deepestAbout(region: GreyRegion, depth: Float32Array, first: number): number {
  let best = first;
  for (let moved = true; moved; ) {
    moved = false;
    beside(region, best, (other) => {
      if (depth[other] <= depth[best]) return;
      best = other;
      moved = true;
    });
  }
  return best;
}

function farthestFrom(region: GreyRegion, places: readonly number[], first: number): number {
  const at = placeMm(region, first);
  let best = first;
  let most = 0;
  for (const place of places) {
    const mm = distance(placeMm(region, place), at);
    if (mm > most) [best, most] = [place, mm];
  }
  return best;
}

/**
 * Paths from each end to the existing ones, the first to `start`; directed from the junction outwards, and divided where others join
 * them.
 */
function branches(
  region: GreyRegion,
  depth: Float32Array,
  places: readonly number[],
  start: number,
): number[][] {
  const { next, lengthMm } = waysTo(region, depth, places, start);
  const covered = new Set<number>();
  const onWay = new Set<number>([start]);
  const joints = new Set<number>([start]);
  const ways: number[][] = [];
  const cover = (way: readonly number[]): void => {
    for (const place of way)
      eachWithin(region, placeMm(region, place), 1.3 * depth[place] + 2 * region.stepMm, (other) =>
        covered.add(other),
      );
  };
  const byLength = [...places].sort((a, b) => (lengthMm.get(b) ?? 0) - (lengthMm.get(a) ?? 0) || a - b);
  for (const tip of byLength) {
    if (ways.length >= MOST_TUBES) break;
    if (covered.has(tip) || !next.has(tip)) continue;
    const way = [tip];
    for (let p = next.get(tip)!; p >= 0; p = next.get(p)!) {
      way.push(p);
      if (onWay.has(p)) break;
    }
    const joint = way[way.length - 1];
    const alone = (lengthMm.get(tip) ?? 0) - (lengthMm.get(joint) ?? 0) - depth[joint];
    cover(way);
    if (alone < LEAST_LENGTH_MM) continue;
    joints.add(joint);
    for (const place of way) onWay.add(place);
    ways.push(way.reverse());
  }
  return ways.flatMap((way) => dividedAt(way, joints));
}

function dividedAt(way: readonly number[], joints: ReadonlySet<number>): number[][] {
  const parts: number[][] = [];
  let from = 0;
  for (let i = 1; i < way.length; i++)
    if (i === way.length - 1 || joints.has(way[i])) {
      parts.push(way.slice(from, i + 1));
      from = i;
    }
  return parts;
}

/** The cheapest paths from all places to one, and the length of each. */
function waysTo(
  region: GreyRegion,
  depth: Float32Array,
  places: readonly number[],
  start: number,
): { next: Map<number, number>; lengthMm: Map<number, number> } {
  const inside = new Set(places);
  const lengthMm = new Map<number, number>([[start, 0]]);
  const cost = (place: number): number => 1 / (depth[place] + 0.25 * region.stepMm) ** 2;
  const { before: next } = cheapestSpread([start], (place, _, offer) => {
    beside(region, place, (other, steps) => {
      if (!inside.has(other)) return;
      if (offer(other, (steps * region.stepMm * (cost(place) + cost(other))) / 2))
        lengthMm.set(other, lengthMm.get(place)! + steps * region.stepMm);
    });
    return undefined;
  });
  return { next, lengthMm };
}

interface TubeContext {
  region: GreyRegion;
  depth: Float32Array;
  volume: GreyVolume;
  at: Vec3;
  reachMm: number;
  lumenHu: number;
  /** Depth of the sac, if there is one. */
  sacDepthMm?: number;
}

/** A path as a tube, without its parts in the sac or in the vessel that it leaves; none if it is short or bone. */
function tubeOf(way: readonly number[], context: TubeContext): Tube[] {
  const { region, depth, volume, at, reachMm, lumenHu, sacDepthMm } = context;
  const outer = way.slice(Math.floor(way.length / 2));
  const usual = median(outer.map((place) => depth[place])) + region.stepMm / 2;
  let first = 0;
  while (first < way.length - 1 && depth[way[first]] > WIDER * usual) first++;
  const isFromSac = sacDepthMm !== undefined && depth[way[0]] > sacDepthMm / 2 && first > 0;
  const kept = way.slice(first).map((place) => placeMm(region, place));
  if (kept.length < 4) return [];
  const line = new Polyline(smoothed(kept));
  const end = kept[kept.length - 1];
  const goesOn = isAtEdge(volume, region, end) || distance(end, at) > reachMm - 2 * region.stepMm;
  const stations = Array.from({ length: 9 }, (_, i) => line.lengthMm * (0.15 + 0.0875 * i));
  const read = stations.flatMap((s) => calibreAt(volume, line, s, 2 * usual));
  if (read.length < 3) return [];
  const calibreMm = median(read.map(({ calibre }) => calibre));
  const value = median(read.map((one) => one.hu));
  if (value > lumenHu + TOO_BRIGHT_HU) return [];
  const backMm = Math.min(goesOn ? 1.5 : calibreMm, line.lengthMm / 3);
  const lengthMm = line.lengthMm;
  if (lengthMm < Math.max(LEAST_LENGTH_MM, 1.2 * calibreMm)) return [];
  const from = line.pointAt(Math.min(0.5, lengthMm / 10));
  const to = centredAt(volume, line, lengthMm - backMm, calibreMm);
  return [
    {
      from,
      to,
      calibreMm,
      lengthMm,
      direction: normalize(subtract(to, from)),
      goesOn,
      joinsSac: isFromSac,
      lumenHu: value,
      nearestMm: Math.max(0, line.project(at).distanceMm - calibreMm / 2),
      line: Array.from({ length: Math.max(2, Math.ceil(lengthMm) + 1) }, (_, i) =>
        line.pointAt(Math.min(lengthMm, i)),
      ),
    },
  ];
}

function smoothed(points: readonly Vec3[]): Vec3[] {
  let now = [...points];
  for (let round = 0; round < 4; round++)
    now = now.map((p, i) =>
      i === 0 || i === now.length - 1
        ? p
        : (p.map((x, d) => (now[i - 1][d] + 2 * x + now[i + 1][d]) / 4) as Vec3),
    );
  return now;
}

const isAtEdge = (volume: GreyVolume, { stepMm }: GreyRegion, p: Vec3): boolean =>
  [0, 1, 2].some((d) =>
    [-2, 2].some((s) => {
      const q: Vec3 = [...p];
      q[d] += s * stepMm;
      return Number.isNaN(valueAt(volume, ...q));
    }),
  );
