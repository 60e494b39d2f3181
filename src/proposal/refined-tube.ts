import { add } from '../foundation/vector.js';
import { localFit, Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import {
  bySummedContrast,
  edgeAlong,
  equivalentOf,
  isThin,
  lumenAt,
  type RayToWall,
  type ScanToRead,
} from '../witness/wall.js';
import {
  calibreAt,
  calibresOf,
  centroidOf,
  DIRECTIONS,
  directionsOf,
  fillNaN,
  framed,
  LEAST_WALLS,
  lineOf,
  OPEN,
  type Tube,
} from './tube.js';

/** Averaging of walls along the vessel, mm, and around it, in directions (standard deviations). */
const ALONG_MM = 0.7;
const AROUND = 1;

/**
 * The wall of a tube by the model of the blur, from station `from` to `to`; the rest is unchanged. A direction without a visible wall
 * takes the value of its neighbours along and around the vessel, relative to their sections' calibre.
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
  /** Calibre by summed contrast at thin stations; NaN elsewhere. */
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
    directionsOf(tube, i).map((direction, k) => ({
      direction,
      radiusMm: Math.max(0.3, tube.radii[DIRECTIONS * i + k]),
    }));
  const deep: number[] = [];
  const stationsRays = tube.centres.map((_, i) => (i < from || i > to ? undefined : raysAt(i)));
  const own = stationsRays.map((rays, i) => rays && lumenAt(tube.centres[i], rays, scan));
  own.forEach((value, i) => {
    if (value === undefined) return;
    // the deep places are far from lumen values: this is not a section
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
  // the calibre of each section by its visible walls, robustly along the vessel
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
  // no visible wall anywhere: the wall at half level stays
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

/** Weighted Gaussian mean along and around the vessel; with ever wider neighbourhoods where data are sparse, and finally 1. */
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
