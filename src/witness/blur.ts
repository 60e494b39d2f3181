import { normalBelow } from '../foundation/normal-distribution.js';
import { power } from '../foundation/power.js';
import { add, dot, scale, type Vec3 } from '../foundation/vector.js';
import { median } from '../geometry/statistics.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type GreyVolume, meanSpacing, valueAt } from '../volume/ct/grey-volume.js';
import type { WallPoint } from './wall-points.js';

/** The blur of a scan, from its edges, including interpolation between voxels; standard deviations, mm. */
export interface ScanBlur {
  /** In the plane of the slices, and along their normal. */
  planeMm: number;
  normalMm: number;
  /** Scatter around the fitted edges, HU. */
  noiseHu: number;
  /** The lumen inside of the edges, HU. */
  lumenHu: number;
  /** Number of edges used for the fit. */
  edges: number;
}

/** Width at half maximum over the standard deviation of a Gaussian. */
export const FWHM_PER_SIGMA = 2 * Math.sqrt(2 * Math.log(2));

/** Largest width at half maximum of the directions, mm. */
export const widestFwhmMm = ({ planeMm, normalMm }: ScanBlur): number =>
  FWHM_PER_SIGMA * Math.max(planeMm, normalMm);

/** Mean width at half maximum, mm: root mean square over the two directions of the plane and the normal. */
export const meanFwhmMm = ({ planeMm, normalMm }: ScanBlur): number =>
  FWHM_PER_SIGMA * Math.sqrt((2 * planeMm ** 2 + normalMm ** 2) / 3);

/** How far inside and outside a wall its edge is sampled, mm. */
const INSIDE_MM = 1.6;
const OUTSIDE_MM = 2;
const STEP_MM = 0.2;
const SAMPLES = Math.round((INSIDE_MM + OUTSIDE_MM) / STEP_MM) + 1;
/** Widths and positions tried, mm. */
const SIGMAS = Array.from({ length: 34 }, (_, i) => 0.15 * power(1.065, i));
const PLACES = Array.from({ length: 33 }, (_, i) => -0.8 + 0.05 * i);
/** An edge counts if its contrast is at least this, HU, and the residual is at most this share of it. */
const LEAST_CONTRAST_HU = 300;
const MOST_LEFT = 0.04;
/** An edge counts if its lumen is nearly as bright as that of the wide parts, because a thin vessel's edge is not straight. */
const BRIGHT = 0.9;
const LEAST_EDGES = 40;

/**
 * Fits the edge of a straight wall, a step under a Gaussian blur, to the scan at many places of the wall; the width may differ in the
 * plane of the slices and along their normal. Undefined if too few clean edges are found.
 *
 * Source  an edge under a Gaussian, its width from the second moment: Nickoloff, Med Phys 1985;12:437 (from memory)
 */
export function fittedBlur(points: readonly WallPoint[], volume: GreyVolume): ScanBlur | undefined {
  const edges = points.flatMap((point) => edgeAt(point, volume) ?? []);
  if (edges.length < LEAST_EDGES) return undefined;
  const lumens = edges.map(({ lumenHu }) => lumenHu).sort((a, b) => a - b);
  const bright = BRIGHT * lumens[Math.floor(0.9 * (lumens.length - 1))];
  const clean = edges.filter(({ lumenHu }) => lumenHu >= bright);
  if (clean.length < LEAST_EDGES) return undefined;
  const { plane, normal } = parted(clean.map(({ sigmaMm, along }) => [sigmaMm ** 2, along]));
  const left = clean.map(({ leftHu }) => leftHu).sort((a, b) => a - b);
  return {
    planeMm: Math.sqrt(plane),
    normalMm: Math.sqrt(normal),
    noiseHu: left[left.length >> 1],
    lumenHu: median(clean.map(({ lumenHu }) => lumenHu)),
    edges: clean.length,
  };
}

/** Scatter assumed if no edge shows it, HU: common practice, no source. */
const ASSUMED_NOISE_HU = 20;

/**
 * A blur for a scan with too few edges for a fit: in each direction a width at half maximum of some voxels, with a minimum, by the rules.
 */
export function assumedBlur(volume: GreyVolume, lumenHu: number, rules: Rules): ScanBlur {
  const voxels = numberOf(rules, 'scan-assumed-blur');
  const leastMm = numberOf(rules, 'scan-assumed-blur-least');
  const [column, row, slice] = meanSpacing(volume);
  const sigma = (spacing: number): number => Math.max(leastMm, voxels * spacing) / FWHM_PER_SIGMA;
  const noiseHu = ASSUMED_NOISE_HU;
  return { planeMm: sigma(Math.max(column, row)), normalMm: sigma(slice), noiseHu, lumenHu, edges: 0 };
}

/** The blur across a wall that faces `direction` (unit). */
export function sigmaAlong({ planeMm, normalMm }: ScanBlur, direction: Vec3, slices: Vec3): number {
  const along = dot(direction, slices) ** 2;
  return Math.sqrt(planeMm ** 2 * (1 - along) + normalMm ** 2 * along);
}

interface Edge {
  sigmaMm: number;
  lumenHu: number;
  /** Squared cosine between the wall's normal and that of the slices. */
  along: number;
  leftHu: number;
}

/** A step at one position and blur, sampled along the normal; `mean` and `span` are those of its shares. */
interface Step {
  s: number;
  shares: Float64Array;
  mean: number;
  span: number;
}

let steps: Step[] | undefined;

const allSteps = (): Step[] =>
  SIGMAS.flatMap((sigma, s) =>
    PLACES.map((place) => {
      const shares = Float64Array.from({ length: SAMPLES }, (_, i) =>
        normalBelow((place - (i * STEP_MM - INSIDE_MM)) / sigma),
      );
      const mean = shares.reduce((a, b) => a + b, 0) / SAMPLES;
      return { s, shares, mean, span: shares.reduce((sum, f) => sum + (f - mean) ** 2, 0) };
    }),
  );

function edgeAt({ at, outward }: WallPoint, volume: GreyVolume): Edge | undefined {
  const values = new Float64Array(SAMPLES);
  for (let i = 0; i < SAMPLES; i++) {
    const p = add(at, scale(outward, i * STEP_MM - INSIDE_MM));
    values[i] = valueAt(volume, p[0], p[1], p[2]);
    if (Number.isNaN(values[i])) return undefined;
  }
  const mean = values.reduce((a, b) => a + b, 0) / SAMPLES;
  const spread = values.reduce((sum, v) => sum + (v - mean) ** 2, 0);
  steps ??= allSteps();
  let best = { left: Number.POSITIVE_INFINITY, s: 0, inside: 0, contrast: 0 };
  // value = outside + contrast · share: linear in both
  for (const { s, shares, mean: middle, span } of steps) {
    let product = 0;
    for (let i = 0; i < SAMPLES; i++) product += values[i] * shares[i];
    const contrast = (product - SAMPLES * mean * middle) / span;
    const left = spread - contrast * contrast * span;
    if (left < best.left) best = { left, s, inside: mean + contrast * (1 - middle), contrast };
  }
  const { contrast, s, inside } = best;
  const leftHu = Math.sqrt(Math.max(0, best.left) / (SAMPLES - 4));
  if (!(contrast >= LEAST_CONTRAST_HU) || s === 0 || s === SIGMAS.length - 1) return undefined;
  if (leftHu > MOST_LEFT * contrast) return undefined;
  return { sigmaMm: SIGMAS[s], lumenHu: inside, along: dot(outward, volume.stack.normal) ** 2, leftHu };
}

/** `value = plane·(1 - along) + normal·along` by least squares with biweights; never below a tenth. */
function parted(pairs: readonly (readonly [value: number, along: number])[]): {
  plane: number;
  normal: number;
} {
  const values = pairs.map(([value]) => value).sort((a, b) => a - b);
  const middle = values[values.length >> 1];
  let fit = { plane: middle, normal: middle };
  for (let round = 0; round < 12; round++) {
    const off = pairs.map(([value, along]) => value - fit.plane * (1 - along) - fit.normal * along);
    const sizes = off.map(Math.abs).sort((a, b) => a - b);
    const scaleOf = Math.max(1e-9, 6 * sizes[sizes.length >> 1]);
    let [aa, ab, bb, ya, yb] = [1e-9, 0, 1e-9, 1e-9 * middle, 1e-9 * middle];
    pairs.forEach(([value, along], i) => {
      const u = off[i] / scaleOf;
      const weight = Math.abs(u) < 1 ? (1 - u * u) ** 2 : 0;
      const [p, q] = [1 - along, along];
      aa += weight * p * p;
      ab += weight * p * q;
      bb += weight * q * q;
      ya += weight * value * p;
      yb += weight * value * q;
    });
    const det = aa * bb - ab * ab;
    if (!(det > 1e-6 * aa * bb)) return { plane: ya / aa, normal: ya / aa };
    const least = middle / 10;
    fit = {
      plane: Math.max(least, (ya * bb - yb * ab) / det),
      normal: Math.max(least, (yb * aa - ya * ab) / det),
    };
  }
  return fit;
}
