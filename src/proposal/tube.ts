import {
  add,
  cross,
  distance,
  dot,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import { localFit, Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import {
  bySummedContrast,
  edgeAlong,
  equivalentOf,
  isThin,
  lumenAt,
  type RayToWall,
  type ScanToRead,
} from '../witness/wall.js';
import { roughWall } from './rough-wall.js';

/** Directions about the axis in which a tube has a radius. */
export const DIRECTIONS = 32;
const STATION_MM = 0.5;
const ROUNDS = 5;
/** A direction whose wall lies farther than this multiple of the section's median opens into something else. */
const OPEN = 1.7;
/** Sections with fewer walls of their own than this say nothing. */
const LEAST_WALLS = 10;
/** Stations to either side over which the value of the axis is taken. */
const PLATEAU = 6;

/** A vessel as sections along its axis, from beyond its far end towards the sac. */
export interface Tube {
  centres: Vec3[];
  along: Vec3[];
  /** Two unit directions across, turning as little as they can from one section to the next. */
  side: Vec3[];
  up: Vec3[];
  /** Radius in each of 32 directions from `side` over `up`, section by section, mm. */
  radii: Float64Array;
  /** By section: the lumen, HU; the contrast of its wall, HU; the share of directions that show no wall of their own. */
  lumenHu: Float64Array;
  contrastHu: Float64Array;
  hidden: Float64Array;
  /** The share of directions in which what lies outside is much brighter than about the rest of the section. */
  bright: Float64Array;
  /** The share of directions whose wall does not go with those about it. */
  apart: Float64Array;
}

/** Length of each station's way from the first, mm. */
export const lineOf = (tube: Pick<Tube, 'centres'>): Polyline => new Polyline(tube.centres);

export const calibreAt = ({ radii }: Pick<Tube, 'radii'>, station: number): number => {
  let sum = 0;
  for (let k = 0; k < DIRECTIONS; k++) sum += radii[DIRECTIONS * station + k] ** 2;
  return 2 * Math.sqrt(sum / DIRECTIONS);
};

/** Grey value at which the wall of a section lies: half way between the lumen and what is outside, HU. */
export const levelAt = ({ lumenHu, contrastHu }: Tube, station: number): number =>
  lumenHu[station] - contrastHu[station] / 2;

/** Runs of stations for which `keyAt` gives the same, in their order; those for which it gives undefined are left out. */
export function runsOf<Key>(
  first: number,
  last: number,
  keyAt: (station: number) => Key | undefined,
): { from: number; to: number; key: Key }[] {
  const runs: { from: number; to: number; key: Key }[] = [];
  let before: Key | undefined;
  for (let i = first; i <= last; i++) {
    const key = keyAt(i);
    if (key !== undefined && key === before) runs[runs.length - 1].to = i;
    else if (key !== undefined) runs.push({ from: i, to: i, key });
    before = key;
  }
  return runs;
}

export const calibresOf = (tube: Tube): number[] => tube.centres.map((_, i) => calibreAt(tube, i));

const ANGLES = Array.from({ length: DIRECTIONS }, (_, k) => (2 * Math.PI * k) / DIRECTIONS);
const COSINES = ANGLES.map(Math.cos);
const SINES = ANGLES.map(Math.sin);

export const directionOf = ({ side, up }: Pick<Tube, 'side' | 'up'>, i: number, k: number): Vec3 =>
  add(scale(side[i], COSINES[k]), scale(up[i], SINES[k]));

/** Frames along a line that turn as little as they can. */
function framed(
  centres: Vec3[],
  window: (i: number) => number,
): Pick<Tube, 'centres' | 'along' | 'side' | 'up'> {
  const line = new Polyline(centres);
  const along = centres.map((_, i) => localFit(line, line.at[i], window(i)).direction);
  const side: Vec3[] = [];
  let before = perpendicular(along[0]);
  for (const direction of along) {
    before = normalize(subtract(before, scale(direction, dot(before, direction))));
    side.push(before);
  }
  return { centres, along, side, up: along.map((d, i) => cross(d, side[i])) };
}

/** A course laid into the middle of its vessel, with the calibre at half level, before the blur is known. */
export function roughTube(
  course: readonly Vec3[],
  volume: GreyVolume,
  lumenHu: number,
  mostMm: number,
): Tube {
  let line = new Polyline(course).resampled(STATION_MM);
  line = new Polyline(line.points.map((_, i) => localFit(line, line.at[i], 2).point));
  let tube: Tube | undefined;
  for (let round = 0; round < ROUNDS; round++) {
    const calibres: number[] | undefined = tube && calibresOf(tube);
    const window = (i: number): number =>
      Math.max(2, 0.8 * (calibres?.[Math.min(i, calibres.length - 1)] ?? 2));
    const frame = framed([...line.points], window);
    tube = withRoughWalls(frame, volume, lumenHu, mostMm);
    if (round === ROUNDS - 1) break;
    line = recentred(tube, window).resampled(STATION_MM);
  }
  return tube!;
}

/** The line through the centroids of the sections. */
function recentred(tube: Tube, window: (i: number) => number): Polyline {
  const moved = tube.centres.map((centre, i) => add(centre, centroidOf(tube, i)));
  const line = new Polyline(moved);
  return new Polyline(moved.map((_, i) => localFit(line, line.at[i], window(i)).point));
}

/** From a section's centre to its centroid; no farther than half its radius. */
function centroidOf(tube: Tube, i: number): Vec3 {
  let shift: Vec3 = [0, 0, 0];
  let area = 0;
  for (let k = 0; k < DIRECTIONS; k++) {
    const r = tube.radii[DIRECTIONS * i + k];
    area += r * r;
    shift = add(shift, scale(directionOf(tube, i, k), (2 / 3) * r ** 3));
  }
  if (!(area > 0)) return [0, 0, 0];
  const by = scale(shift, 1 / area);
  const most = 0.25 * calibreAt(tube, i);
  const far = Math.sqrt(dot(by, by));
  return far > most ? scale(by, most / far) : by;
}

function withRoughWalls(
  frame: Pick<Tube, 'centres' | 'along' | 'side' | 'up'>,
  volume: GreyVolume,
  lumenHu: number,
  mostMm: number,
): Tube {
  const count = frame.centres.length;
  // a thin vessel never shows the full value: half way is that of its own axis
  const axis = frame.centres.map((centre) => valueAt(volume, ...centre));
  const plateau = axis.map((_, i) => {
    const near = axis.slice(Math.max(0, i - PLATEAU), i + PLATEAU + 1).filter((v) => !Number.isNaN(v));
    return near.length === 0 ? lumenHu : Math.min(lumenHu, median(near));
  });
  const tube: Tube = {
    ...frame,
    radii: new Float64Array(count * DIRECTIONS),
    lumenHu: Float64Array.from(plateau),
    contrastHu: new Float64Array(count),
    hidden: new Float64Array(count),
    bright: new Float64Array(count),
    apart: new Float64Array(count),
  };
  for (let i = 0; i < count; i++) {
    const walls = ANGLES.map((_, k) =>
      roughWall(volume, frame.centres[i], directionOf(frame, i, k), plateau[i], mostMm),
    );
    const found = walls.flatMap((wall) => (wall ? [wall.atMm] : []));
    // more than half of all directions without a wall: as wide as it can be
    const usual = found.length >= LEAST_WALLS ? median(found) : found.length === 0 ? mostMm : median(found);
    let hidden = 0;
    walls.forEach((wall, k) => {
      const isOwn = wall !== undefined && wall.atMm <= OPEN * usual;
      if (!isOwn) hidden++;
      tube.radii[DIRECTIONS * i + k] = isOwn ? wall.atMm : found.length < DIRECTIONS / 2 ? mostMm : usual;
    });
    tube.hidden[i] = hidden / DIRECTIONS;
    tube.contrastHu[i] = plateau[i] - median(walls.flatMap((wall) => (wall ? [wall.outsideHu] : [])));
  }
  return tube;
}

/** Sections before `start`, past the point of the vessel, take that one's radii where they show none of their own. */
export function evenBefore(tube: Tube, start: number): void {
  const usual = calibreAt(tube, start);
  for (let i = 0; i < start; i++) {
    if (tube.hidden[i] <= 0.5 && calibreAt(tube, i) < 1.4 * usual) continue;
    tube.radii.copyWithin(DIRECTIONS * i, DIRECTIONS * start, DIRECTIONS * (start + 1));
  }
}

/** Places and outward directions of a tube's walls, for the fit of the blur. */
export function wallPointsOf(tube: Tube, from: number, to: number): { at: Vec3; outward: Vec3 }[] {
  const points: { at: Vec3; outward: Vec3 }[] = [];
  for (let i = from; i <= to; i += 2)
    for (let k = i % 4; k < DIRECTIONS; k += 4) {
      const outward = directionOf(tube, i, k);
      points.push({ at: add(tube.centres[i], scale(outward, tube.radii[DIRECTIONS * i + k])), outward });
    }
  return points;
}

/** How far along the vessel, mm, and about it, in directions, walls are averaged (standard deviations). */
const ALONG_MM = 0.7;
const AROUND = 1;

/**
 * The wall of a tube by the model of the blur, from station `from` to `to`; what lies past them is left as it was. A direction without a
 * wall of its own takes what its neighbours along and about the vessel have, as a part of their sections' calibre.
 */
export function refinedTube(rough: Tube, from: number, to: number, scan: ScanToRead, lumenHu: number): Tube {
  let tube = rough;
  for (let round = 0; round < 2; round++) {
    const walls = fineWalls(tube, from, to, scan, lumenHu);
    tube = smoothedTube(walls.tube, from, to, walls.isOwn, walls.thin);
    if (round === 0) {
      const calibres = calibresOf(tube);
      const moved = tube.centres.map((centre, i) =>
        i < from || i > to || tube.hidden[i] > 0.4 ? centre : add(centre, centroidOf(tube, i)),
      );
      const line = new Polyline(moved);
      const window = (i: number): number => Math.max(2, 0.8 * calibres[i]);
      const centres = moved.map((_, i) => localFit(line, line.at[i], window(i)).point);
      tube = { ...tube, ...framed(centres, window) };
    }
  }
  return tube;
}

interface FineWalls {
  tube: Tube;
  isOwn: Uint8Array;
  /** Calibre by summed contrast where a station is thin; NaN elsewhere. */
  thin: Float64Array;
}

function fineWalls(tube: Tube, from: number, to: number, scan: ScanToRead, lumenHu: number): FineWalls {
  const count = tube.centres.length;
  const out: Tube = {
    ...tube,
    radii: tube.radii.slice(),
    lumenHu: tube.lumenHu.slice(),
    contrastHu: tube.contrastHu.slice(),
    hidden: tube.hidden.slice(),
    bright: new Float64Array(count),
  };
  const isOwn = new Uint8Array(count * DIRECTIONS);
  const thin = new Float64Array(count).fill(Number.NaN);
  const raysAt = (i: number): RayToWall[] =>
    ANGLES.map((_, k) => ({
      direction: directionOf(tube, i, k),
      radiusMm: Math.max(0.3, tube.radii[DIRECTIONS * i + k]),
    }));
  const deep: number[] = [];
  const stationsRays = tube.centres.map((_, i) => (i < from || i > to ? undefined : raysAt(i)));
  const own = stationsRays.map((rays, i) => rays && lumenAt(tube.centres[i], rays, scan));
  own.forEach((value, i) => {
    if (value === undefined) return;
    // what lies deep is far from any lumen: the section is none
    if (Math.abs(value - lumenHu) > 0.5 * Math.abs(lumenHu)) own[i] = undefined;
    else deep.push(value);
  });
  const usualHu = deep.length >= 5 ? median(deep) : lumenHu;
  stationsRays.forEach((rays, i) => {
    if (!rays) return;
    const centre = tube.centres[i];
    const hu = own[i] ?? usualHu;
    const found = rays.map((ray) => edgeAlong(centre, ray, hu, scan));
    const usual = median(found.flatMap((wall) => (wall ? [wall.radiusMm] : [])));
    const level = median(found.flatMap((wall) => (wall ? [wall.outsideHu] : [])));
    let [hidden, bright] = [0, 0];
    found.forEach((wall, k) => {
      const at = DIRECTIONS * i + k;
      if (wall && !(wall.radiusMm > OPEN * usual)) {
        isOwn[at] = 1;
        out.radii[at] = wall.radiusMm;
        if (wall.outsideHu > level + 150) bright++;
      } else {
        hidden++;
      }
    });
    out.hidden[i] = hidden / DIRECTIONS;
    out.bright[i] = bright / DIRECTIONS;
    out.lumenHu[i] = hu;
    if (Number.isFinite(level)) out.contrastHu[i] = hu - level;
    if (isThin(equivalentOf(rays), scan.blur))
      thin[i] = bySummedContrast(centre, rays, hu, scan) ?? Number.NaN;
  });
  return { tube: out, isOwn, thin };
}

function smoothedTube(tube: Tube, from: number, to: number, isOwn: Uint8Array, thin: Float64Array): Tube {
  const radii = tube.radii.slice();
  const apart = tube.apart.slice();
  const n = to - from + 1;
  if (n < 3) return tube;
  const line = lineOf(tube);
  const meanStep = (line.at[to] - line.at[from]) / (n - 1);
  // the calibre of each section by its own walls, robustly along the vessel
  const ownMm = new Float64Array(n).fill(Number.NaN);
  for (let s = 0; s < n; s++) {
    const values: number[] = [];
    for (let k = 0; k < DIRECTIONS; k++)
      if (isOwn[DIRECTIONS * (from + s) + k]) values.push(tube.radii[DIRECTIONS * (from + s) + k]);
    if (values.length >= LEAST_WALLS) ownMm[s] = median(values);
  }
  const half = Math.max(2, Math.round(2 / meanStep));
  const usual = Array.from({ length: n }, (_, s) =>
    median([...ownMm.subarray(Math.max(0, s - half), s + half + 1)].filter((x) => !Number.isNaN(x))),
  );
  // no wall of its own anywhere: what was found at half level stays
  if (usual.every(Number.isNaN)) return tube;
  fillNaN(usual);
  const ratio = new Float64Array(n * DIRECTIONS);
  const weight = new Float64Array(n * DIRECTIONS);
  for (let s = 0; s < n; s++)
    for (let k = 0; k < DIRECTIONS; k++) {
      const at = DIRECTIONS * (from + s) + k;
      ratio[DIRECTIONS * s + k] = isOwn[at] ? tube.radii[at] / usual[s] : 1;
      weight[DIRECTIONS * s + k] = isOwn[at];
    }
  for (let round = 0; round < 2; round++) {
    const smooth = blurredRatios(ratio, weight, n, ALONG_MM / meanStep);
    const off = Float64Array.from(ratio, (r, i) => (weight[i] > 0 ? Math.abs(r - smooth[i]) : 0));
    const sizes = [...off].filter((_, i) => weight[i] > 0);
    const limit = Math.max(0.04, 5 * median(sizes));
    if (round === 0) {
      apart.fill(0, from, to + 1);
      for (let i = 0; i < off.length; i++) {
        if (weight[i] === 0) continue;
        if (off[i] >= limit) apart[from + Math.floor(i / DIRECTIONS)] += 1 / DIRECTIONS;
        weight[i] = off[i] < limit ? (1 - (off[i] / limit) ** 2) ** 2 : 0;
      }
    } else
      for (let s = 0; s < n; s++)
        for (let k = 0; k < DIRECTIONS; k++)
          radii[DIRECTIONS * (from + s) + k] = usual[s] * smooth[DIRECTIONS * s + k];
  }
  // the summed contrast of thin stations sets the calibre, their walls the shape
  const sums = Array.from({ length: n }, (_, s) => {
    const near = [...thin.subarray(Math.max(from, from + s - half), Math.min(to, from + s + half) + 1)];
    const known = near.filter((x) => !Number.isNaN(x));
    return known.length >= 3 && !Number.isNaN(thin[from + s]) ? median(known) : Number.NaN;
  });
  sums.forEach((calibreMm, s) => {
    if (Number.isNaN(calibreMm)) return;
    const factor = calibreMm / calibreAt({ radii }, from + s);
    for (let k = 0; k < DIRECTIONS; k++) radii[DIRECTIONS * (from + s) + k] *= factor;
  });
  return { ...tube, radii, apart };
}

/** Values that are missing take those of the nearest that is not. */
function fillNaN(values: number[]): void {
  const known = values.map((v, i) => [v, i] as const).filter(([v]) => !Number.isNaN(v));
  values.forEach((v, i) => {
    if (!Number.isNaN(v) || known.length === 0) return;
    values[i] = known.reduce((best, one) => (Math.abs(one[1] - i) < Math.abs(best[1] - i) ? one : best))[0];
  });
}

/** Weighted Gaussian mean along and about the vessel; where little is known, of ever wider neighbourhoods, at last 1. */
function blurredRatios(
  ratio: Float64Array,
  weight: Float64Array,
  n: number,
  alongSteps: number,
): Float64Array {
  const out = new Float64Array(ratio.length);
  const total = new Float64Array(ratio.length);
  for (const [wide, share] of [
    [1, 1],
    [3, 0.02],
    [8, 0.0005],
  ] as const) {
    const sum = pass(ratio, weight, n, wide * alongSteps, wide * AROUND);
    for (let i = 0; i < out.length; i++) {
      out[i] += share * sum.values[i];
      total[i] += share * sum.weights[i];
    }
  }
  for (let i = 0; i < out.length; i++) out[i] = (out[i] + 1e-6) / (total[i] + 1e-6);
  return out;
}

function pass(
  ratio: Float64Array,
  weight: Float64Array,
  n: number,
  alongSteps: number,
  around: number,
): { values: Float64Array; weights: Float64Array } {
  const kernel = (sigma: number): number[] =>
    Array.from({ length: Math.ceil(2.5 * sigma) + 1 }, (_, i) => Math.exp(-0.5 * (i / sigma) ** 2));
  const [a, b] = [kernel(alongSteps), kernel(around)];
  const turn = (values: Float64Array): Float64Array => {
    const one = new Float64Array(values.length);
    for (let s = 0; s < n; s++)
      for (let k = 0; k < DIRECTIONS; k++) {
        let sum = 0;
        for (let d = -Math.min(b.length - 1, 15); d <= Math.min(b.length - 1, 15); d++)
          sum += b[Math.abs(d)] * values[DIRECTIONS * s + ((k + d + DIRECTIONS) % DIRECTIONS)];
        one[DIRECTIONS * s + k] = sum;
      }
    const two = new Float64Array(values.length);
    for (let s = 0; s < n; s++)
      for (let d = -(a.length - 1); d <= a.length - 1; d++) {
        const other = s + d;
        if (other < 0 || other >= n) continue;
        for (let k = 0; k < DIRECTIONS; k++)
          two[DIRECTIONS * s + k] += a[Math.abs(d)] * one[DIRECTIONS * other + k];
      }
    return two;
  };
  return { values: turn(ratio.map((r, i) => r * weight[i])), weights: turn(weight) };
}

/** The tube cut to its sections up to `last`, then straight on for `onMm` with its last calibre (the median of `over` mm before). */
export function straightOn(tube: Tube, last: number, onMm: number, overMm: number): Tube {
  const line = lineOf(tube);
  const keep = last + 1;
  const more = Math.ceil(onMm / STATION_MM);
  const from = tube.centres.findIndex((_, i) => line.at[i] >= line.at[last] - overMm);
  const direction = normalize(
    subtract(tube.centres[last], tube.centres[Math.max(0, Math.min(from, last - 2))]),
  );
  const calibres = calibresOf(tube).slice(from, keep);
  const usual = median(calibres);
  const own = calibreAt(tube, last);
  const radii = new Float64Array((keep + more) * DIRECTIONS);
  radii.set(tube.radii.subarray(0, keep * DIRECTIONS));
  const extend = (values: Float64Array): Float64Array => {
    const longer = new Float64Array(keep + more).fill(values[last]);
    longer.set(values.subarray(0, keep));
    return longer;
  };
  const centres = tube.centres.slice(0, keep);
  for (let i = 1; i <= more; i++) {
    centres.push(add(tube.centres[last], scale(direction, i * STATION_MM)));
    const share = Math.min(1, (i * STATION_MM) / 1.5);
    for (let k = 0; k < DIRECTIONS; k++) {
      const shape = tube.radii[DIRECTIONS * last + k] / own;
      radii[DIRECTIONS * (last + i) + k] = ((1 - share) * own + share * usual) * shape;
    }
  }
  const spread = (list: Vec3[]): Vec3[] => [
    ...list.slice(0, keep),
    ...Array.from({ length: more }, () => list[last]),
  ];
  return {
    centres,
    along: [...tube.along.slice(0, keep), ...Array.from({ length: more }, () => direction)],
    side: spread(tube.side),
    up: spread(tube.up),
    radii,
    lumenHu: extend(tube.lumenHu),
    contrastHu: extend(tube.contrastHu),
    hidden: extend(tube.hidden),
    bright: extend(tube.bright),
    apart: extend(tube.apart),
  };
}

/** Distance of a place from a tube's axis over its first `until` sections, and the nearest of them. */
export function nearestStation(
  tube: Tube,
  p: Vec3,
  until = tube.centres.length,
): { station: number; mm: number } {
  let best = { station: 0, mm: Number.POSITIVE_INFINITY };
  for (let i = 0; i < Math.min(until, tube.centres.length); i++) {
    const mm = distance(tube.centres[i], p);
    if (mm < best.mm) best = { station: i, mm };
  }
  return best;
}
