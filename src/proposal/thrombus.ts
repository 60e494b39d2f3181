import { cube } from '../foundation/power.js';
import type { Vec3 } from '../foundation/vector.js';
import { middleOf } from '../grid/cells.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { LUNG_HU, SOFT_HU } from '../witness/opacified.js';
import { cellOf, placeMm } from '../grid/even-grid.js';
import { beside, type GreyRegion, gathered, grown } from '../witness/scan-region.js';
import { levelSurface } from './level-surface.js';
import type { Opacified, RoughSac } from './sac.js';

/** A part of the sac without contrast agent. */
export interface Thrombus {
  mesh: TriangleMesh;
  volumeMl: number;
  /** A point inside, mm LPS. */
  at: Vec3;
}

/** Lower limit for clot and soft tissue, HU below soft tissue. */
const DARKER_HU = 120;
/** A body larger than this multiple of the sac is not its thrombus but adjacent tissue. */
const MOST_OF_SAC = 4;
/** Margin around the sac that is searched, mm. */
const ABOUT_MM = 25;
/** Least share of its rim that is against the sac. */
const LEAST_AGAINST = 0.15;

export interface ThrombusLimits {
  /** Threshold for opacified places. */
  levelHu: number;
  lumenHu: number;
  /** Width of the blur at half maximum. */
  blurMm: number;
  /** Smaller bodies are not reported. */
  leastMl: number;
}

/**
 * The largest body of soft tissue that is against the sac and ends there: thicker than twice the blur, of `leastMl` or more. A body that
 * reaches the rim of the region, or is much larger than the sac, is chest wall or mediastinum. Undefined if there is none.
 */
export function thrombusOf(
  whole: GreyRegion,
  { cells }: Opacified,
  sac: RoughSac,
  { levelHu, lumenHu, blurMm, leastMl }: ThrombusLimits,
): Thrombus | undefined {
  const middles = [...sac.fromCore.keys()].map((cell) => middleOf(cells, cell));
  const region = partAbout(whole, middles, ABOUT_MM);
  const { grey, stepMm, size, originMm } = region;
  const isSac = new Uint8Array(grey.length);
  for (const p of middles) {
    const [x, y, z] = p.map((v, d) => Math.round((v - originMm[d]) / stepMm));
    isSac[(x * size[1] + y) * size[2] + z] = 1;
  }
  const isSoft = (place: number): boolean => grey[place] >= SOFT_HU - DARKER_HU && grey[place] < levelHu;
  // the blurred wall of the sac has the values of soft tissue, so only thicker bodies count
  const shaved = grown(region, (place) => !isSoft(place), blurMm);
  const near = grown(region, (place) => isSac[place] === 1, 2 * blurMm + stepMm);
  const seen = new Uint8Array(grey.length);
  let best: number[] | undefined;
  const mostPlaces = MOST_OF_SAC * sac.fromCore.size;
  for (let place = 0; place < grey.length; place++) {
    if (near[place] === 0 || shaved[place] === 1 || seen[place] === 1) continue;
    const body = gathered(region, place, seen, (other) => shaved[other] === 0);
    if (body.length > mostPlaces || touchesRim(region, body)) continue;
    if (!best || body.length > best.length) best = body;
  }
  if (!best) return undefined;
  const core = new Uint8Array(grey.length);
  for (const place of best) core[place] = 1;
  // dilated back to the half levels towards lung and lumen
  const [lowHu, highHu] = [(SOFT_HU + LUNG_HU) / 2, (SOFT_HU + lumenHu) / 2];
  const body = grown(region, (place) => core[place] === 1, blurMm + stepMm);
  for (let place = 0; place < body.length; place++)
    if (!(grey[place] >= lowHu && grey[place] < highHu)) body[place] = 0;
    else isSac[place] = 0;
  let [count, rim, against] = [0, 0, 0];
  for (let place = 0; place < grey.length; place++) {
    if (body[place] === 0) continue;
    count++;
    let isRim = false;
    let isAgainst = false;
    beside(region, place, (other) => {
      if (isSac[other] === 1) isAgainst = true;
      else if (body[other] === 0) isRim = true;
    });
    if (isRim || isAgainst) rim++;
    if (isAgainst) against++;
  }
  const volumeMl = (count * cube(stepMm)) / 1000;
  if (volumeMl < leastMl || against < LEAST_AGAINST * rim) return undefined;
  return { mesh: meshOf(region, body), volumeMl, at: placeMm(region, middlemostOf(region, best)) };
}

const touchesRim = ({ size }: GreyRegion, body: readonly number[]): boolean =>
  body.some((place) => cellOf(size, place).some((x, d) => x < 3 || x > size[d] - 4));

/** The place of a body nearest to its centre. */
function middlemostOf(region: GreyRegion, body: readonly number[]): number {
  const places = body.map((place) => placeMm(region, place));
  const middle = [0, 1, 2].map((d) => places.reduce((sum, p) => sum + p[d], 0) / places.length);
  let best = 0;
  const away = (i: number): number => places[i].reduce((sum, x, d) => sum + (x - middle[d]) ** 2, 0);
  for (let i = 1; i < body.length; i++) if (away(i) < away(best)) best = i;
  return body[best];
}

/** Closed surface of the marked places, smoothed by averaging each place with its neighbours. */
function meshOf(region: GreyRegion, whole: Uint8Array): TriangleMesh {
  const field = new Float32Array(whole.length).fill(1);
  for (let place = 0; place < whole.length; place++) {
    let [sum, count] = [0, 0];
    if (whole[place] === 0) {
      let isBeside = false;
      beside(region, place, (other) => {
        if (whole[other] === 1) isBeside = true;
      });
      if (!isBeside) continue;
    }
    beside(region, place, (other, steps) => {
      sum += whole[other] === 1 ? 1 / steps : 0;
      count += 1 / steps;
    });
    field[place] = 0.5 - sum / count;
  }
  return levelSurface(region, field);
}

/** The part of a region that contains some places plus a margin. */
function partAbout(region: GreyRegion, places: readonly (readonly number[])[], mm: number): GreyRegion {
  const { originMm, stepMm, size, grey } = region;
  const more = Math.ceil(mm / stepMm);
  const low = [0, 1, 2].map((d) => {
    const least = places.reduce((most, p) => Math.min(most, p[d]), Number.POSITIVE_INFINITY);
    return Math.max(0, Math.round((least - originMm[d]) / stepMm) - more);
  });
  const high = [0, 1, 2].map((d) => {
    const most = places.reduce((best, p) => Math.max(best, p[d]), Number.NEGATIVE_INFINITY);
    return Math.min(size[d] - 1, Math.round((most - originMm[d]) / stepMm) + more);
  });
  const [nx, ny, nz] = low.map((x, d) => high[d] - x + 1);
  const out = new Float32Array(nx * ny * nz);
  for (let x = 0, n = 0; x < nx; x++)
    for (let y = 0; y < ny; y++, n += nz) {
      const from = ((x + low[0]) * size[1] + y + low[1]) * size[2] + low[2];
      out.set(grey.subarray(from, from + nz), n);
    }
  return {
    originMm: low.map((x, d) => originMm[d] + x * stepMm) as Vec3,
    stepMm,
    size: [nx, ny, nz],
    grey: out,
  };
}
