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
import { cube } from '../foundation/power.js';

/** Number of directions around the axis in which a tube has a radius. */
export const DIRECTIONS = 32;
/** Distance between sections, mm. */
export const STATION_MM = 0.5;
/** A direction whose wall is farther than this multiple of the section's median opens into another structure. */
export const OPEN = 1.7;
/** Sections with fewer visible walls than this are not used. */
export const LEAST_WALLS = 10;

/** A vessel as sections along its axis, from beyond its far end towards the sac. */
export interface Tube {
  centres: Vec3[];
  along: Vec3[];
  /** Two unit directions across, turning as little as possible from one section to the next. */
  side: Vec3[];
  up: Vec3[];
  /** Radius in each of 32 directions from `side` over `up`, section by section, mm. */
  radii: Float64Array;
  /** By section: the lumen, HU; the contrast of its wall, HU; the share of directions without a visible wall. */
  lumenHu: Float64Array;
  contrastHu: Float64Array;
  hidden: Float64Array;
  /** The share of directions in which the outside is much brighter than around the rest of the section. */
  bright: Float64Array;
  /** The share of directions whose wall is an outlier among its neighbours. */
  apart: Float64Array;
}

/** Path length from the first station to each station, mm. */
export const lineOf = (tube: Pick<Tube, 'centres'>): Polyline => new Polyline(tube.centres);

export const calibreAt = ({ radii }: Pick<Tube, 'radii'>, station: number): number => {
  let sum = 0;
  for (let k = 0; k < DIRECTIONS; k++) sum += radii[DIRECTIONS * station + k] ** 2;
  return 2 * Math.sqrt(sum / DIRECTIONS);
};

/** Grey value at the wall of a section: half way between the lumen and the outside, HU. */
export const levelAt = ({ lumenHu, contrastHu }: Tube, station: number): number =>
  lumenHu[station] - contrastHu[station] / 2;

/** Missing values take the nearest known value. */
export function fillNaN(values: number[]): void {
  const known = values.map((v, i) => [v, i] as const).filter(([v]) => !Number.isNaN(v));
  values.forEach((v, i) => {
    if (!Number.isNaN(v) || known.length === 0) return;
    values[i] = known.reduce((best, one) => (Math.abs(one[1] - i) < Math.abs(best[1] - i) ? one : best))[0];
  });
}

/** Runs of stations with the same key, in order; those with an undefined key are left out. */
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

/** All directions of a section. */
export const directionsOf = (tube: Pick<Tube, 'side' | 'up'>, i: number): Vec3[] =>
  ANGLES.map((_, k) => directionOf(tube, i, k));

/** Positions and orientations of the sections of a tube. */
export type Frames = Pick<Tube, 'centres' | 'along' | 'side' | 'up'>;

/** Frames along a line that turn as little as possible. */
export function framed(centres: Vec3[], window: (i: number) => number): Frames {
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

/** From a section's centre to its centroid; no farther than half its radius. */
export function centroidOf(tube: Tube, i: number): Vec3 {
  let shift: Vec3 = [0, 0, 0];
  let area = 0;
  for (let k = 0; k < DIRECTIONS; k++) {
    const r = tube.radii[DIRECTIONS * i + k];
    area += r * r;
    shift = add(shift, scale(directionOf(tube, i, k), (2 / 3) * cube(r)));
  }
  if (!(area > 0)) return [0, 0, 0];
  const by = scale(shift, 1 / area);
  const most = 0.25 * calibreAt(tube, i);
  const far = Math.sqrt(dot(by, by));
  return far > most ? scale(by, most / far) : by;
}

/** Points and outward directions of a tube's walls, for the fit of the blur. */
export function wallPointsOf(tube: Tube, from: number, to: number): { at: Vec3; outward: Vec3 }[] {
  const points: { at: Vec3; outward: Vec3 }[] = [];
  for (let i = from; i <= to; i += 2)
    for (let k = i % 4; k < DIRECTIONS; k += 4) {
      const outward = directionOf(tube, i, k);
      points.push({ at: add(tube.centres[i], scale(outward, tube.radii[DIRECTIONS * i + k])), outward });
    }
  return points;
}

/** The tube up to section `last`, extended straight by `onMm` with its last calibre (the median over the preceding `overMm`). */
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
