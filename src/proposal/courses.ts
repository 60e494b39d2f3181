import { distance, type Vec3 } from '../foundation/vector.js';
import { cellNear, cellsWhere, middleOf } from '../grid/cells.js';
import { cheapestWays, wayFrom } from '../grid/cheapest-ways.js';
import { SOFT_HU } from '../witness/opacified.js';
import type { GreyRegion } from '../witness/scan-region.js';

/** A step through what is no lumen costs so many times what one through a full lumen does. */
const DEAREST = 400;
/** Half the side of the box that a thin vessel is held against, mm. */
const ABOUT_MM = 3;
/** A thin vessel in lung shows this much above what lies about it, and is brighter than the wall of an airway, HU. */
const THIN_CONTRAST_HU = 900;
const AIRWAY_WALL_HU = -300;
const THIN_HU = 50;

/**
 * The course of each vessel from its point to the sac, mm LPS: cheapest ways through the scan (Dijkstra over the 26 neighbours). A step costs
 * the more the less it looks like lumen: by its brightness between soft tissue and the sac, or, for vessels too thin to be so bright, by
 * its contrast with what lies about it. Undefined where nothing brighter than `leastHu` leads there.
 */
export function coursesTo(
  region: GreyRegion,
  sac: Vec3,
  ends: readonly Vec3[],
  lumenHu: number,
  leastHu: number,
): (Vec3[] | undefined)[] {
  const { grey } = region;
  const about = boxMean(region, ABOUT_MM);
  const cells = cellsWhere(region, (place) => grey[place] >= leastHu);
  const source = cellNear(cells, sac, 3);
  const targets = ends.map((at) => cellNear(cells, at, 3));
  if (source < 0) return ends.map(() => undefined);
  const cost = Float32Array.from(cells.placeOf, (place) => {
    const value = grey[place];
    const bright = (value - SOFT_HU) / (lumenHu - SOFT_HU);
    // bone is no lumen
    if (bright > 1.6) return DEAREST / 4;
    const apart = Math.min(1, (value - about[place]) / THIN_CONTRAST_HU);
    const thin = apart * Math.min(1, Math.max(0, (value - AIRWAY_WALL_HU) / (THIN_HU - AIRWAY_WALL_HU)));
    const share = Math.min(1, Math.max(bright, thin));
    return share <= 0.22 ? DEAREST : share ** -4;
  });
  const ways = cheapestWays(
    cells,
    source,
    targets.filter((cell) => cell >= 0),
    (cell) => cost[cell],
  );
  return targets.map((target) => {
    const way = target < 0 ? undefined : wayFrom(ways, target);
    return way && way.length > 1 ? way.map((cell) => middleOf(cells, cell)) : undefined;
  });
}

/** Mean over a box about each place, by running sums along one axis after the other; what lies outside of the scan counts as lung. */
function boxMean({ grey, size, stepMm }: GreyRegion, halfMm: number): Float32Array {
  const half = Math.round(halfMm / stepMm);
  const [nx, ny, nz] = size;
  const out = Float32Array.from(grey, (value) => (Number.isNaN(value) ? LUNG_HU : value));
  const line = new Float64Array(Math.max(nx, ny, nz));
  for (const [count, stride] of [
    [nz, 1],
    [ny, nz],
    [nx, ny * nz],
  ]) {
    for (let first = 0; first < out.length; first++) {
      if (Math.floor(first / stride) % count !== 0) continue;
      let sum = 0;
      for (let i = 0; i < count; i++) line[i] = out[first + i * stride];
      const value = (i: number): number => line[Math.max(0, Math.min(count - 1, i))];
      for (let i = -half; i <= half; i++) sum += value(i);
      for (let i = 0; i < count; i++) {
        out[first + i * stride] = sum / (2 * half + 1);
        sum += value(i + half + 1) - value(i - half);
      }
    }
  }
  return out;
}

/** Mean of lung, HU. */
export const LUNG_HU = -820;

/** The brightest place near a point: of means over its neighbours, the farther ones a little less; with its value. */
export function settledPoint(
  region: GreyRegion,
  at: Vec3,
  mostMm: number,
): { at: Vec3; hu: number } | undefined {
  const { originMm, stepMm, size, grey } = region;
  const [nx, ny, nz] = size;
  const middle = at.map((x, d) => Math.round((x - originMm[d]) / stepMm));
  const reach = Math.ceil(mostMm / stepMm);
  let best: { at: Vec3; hu: number; score: number } | undefined;
  for (let dx = -reach; dx <= reach; dx++)
    for (let dy = -reach; dy <= reach; dy++)
      for (let dz = -reach; dz <= reach; dz++) {
        const [x, y, z] = [middle[0] + dx, middle[1] + dy, middle[2] + dz];
        if (x < 1 || y < 1 || z < 1 || x >= nx - 1 || y >= ny - 1 || z >= nz - 1) continue;
        const p: Vec3 = [originMm[0] + x * stepMm, originMm[1] + y * stepMm, originMm[2] + z * stepMm];
        const away = distance(p, at);
        if (away > mostMm) continue;
        const place = (x * ny + y) * nz + z;
        let sum = 2 * grey[place];
        for (const step of [1, -1, nz, -nz, ny * nz, -ny * nz]) sum += grey[place + step];
        const hu = sum / 8;
        const score = hu - 60 * away;
        if (!Number.isNaN(hu) && (!best || score > best.score)) best = { at: p, hu: grey[place], score };
      }
  return best && { at: best.at, hu: best.hu };
}
