import { fourthPower } from '../foundation/power.js';
import { add, scale, type Vec3 } from '../foundation/vector.js';
import { cellNear, cellsWhere, middleOf } from '../grid/cells.js';
import { cheapestWays, wayFrom } from '../grid/cheapest-ways.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import { LUNG_HU, SOFT_HU } from '../witness/opacified.js';
import type { GreyRegion } from '../witness/scan-region.js';

/** Cost of a step outside a lumen relative to one through a full lumen. */
const DEAREST = 400;
/** Distance of the surroundings with which a thin vessel is compared, mm. */
const ABOUT_MM = 3;
/** Least contrast of a thin vessel in lung with its surroundings, and least value, above the wall of an airway, HU. */
const THIN_CONTRAST_HU = 900;
const AIRWAY_WALL_HU = -300;
const THIN_HU = 50;
/** Anything brighter than soft tissue by this multiple of the sac's contrast is bone. */
export const BONE = 1.6;
const LEAST_LIKE = 0.22;

/**
 * How much a place looks like lumen, 0 to 1: by its brightness between soft tissue and the sac or, for vessels too thin for that, by its
 * contrast with the surroundings at a distance of 3 mm.
 */
function likeLumen(hu: number, aboutHu: number, lumenHu: number): number {
  const bright = (hu - SOFT_HU) / (lumenHu - SOFT_HU);
  if (bright > BONE) return LEAST_LIKE + 0.1;
  const apart = Math.min(1, (hu - aboutHu) / THIN_CONTRAST_HU);
  const thin = apart * Math.min(1, Math.max(0, (hu - AIRWAY_WALL_HU) / (THIN_HU - AIRWAY_WALL_HU)));
  return Math.min(1, Math.max(bright, thin));
}

/**
 * The course of each vessel from its point to the sac, mm LPS: cheapest paths through the scan (Dijkstra over the 26 neighbours). The
 * less a step looks like lumen, the more it costs: by brightness between soft tissue and the sac or, for vessels too thin for that, by
 * contrast with the surroundings. Undefined if nothing brighter than `leastHu` leads there.
 */
export function coursesTo(
  region: GreyRegion,
  sac: Vec3,
  ends: readonly Vec3[],
  lumenHu: number,
  leastHu: number,
): (Vec3[] | undefined)[] {
  const { grey } = region;
  const ring = ringSteps(region, ABOUT_MM);
  const cells = cellsWhere(region, (place) => grey[place] >= leastHu);
  const source = cellNear(cells, sac, 3);
  const targets = ends.map((at) => cellNear(cells, at, 3));
  if (source < 0) return ends.map(() => undefined);
  const cost = Float32Array.from(cells.placeOf, (place) => {
    let about = 0;
    for (const step of ring) {
      const other = grey[place + step];
      about += (other >= -1024 ? other : LUNG_HU) / ring.length;
    }
    const share = likeLumen(grey[place], about, lumenHu);
    return share <= LEAST_LIKE ? DEAREST : 1 / fourthPower(share);
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

/** Directions over a sphere: to the faces and corners of a cube. */
const AROUND: Vec3[] = [-1, 0, 1].flatMap((x) =>
  [-1, 0, 1].flatMap((y) =>
    [-1, 0, 1].flatMap((z): Vec3[] => {
      const n = Math.abs(x) + Math.abs(y) + Math.abs(z);
      return n === 1 || n === 3 ? [[x / Math.sqrt(n), y / Math.sqrt(n), z / Math.sqrt(n)]] : [];
    }),
  ),
);

/** Offsets from a place to a ring of places at a distance. */
function ringSteps({ size: [, ny, nz], stepMm }: GreyRegion, mm: number): number[] {
  return AROUND.map((d) => {
    const [x, y, z] = d.map((c) => Math.round((c * mm) / stepMm));
    return (x * ny + y) * nz + z;
  });
}

/** Step of the search for a better place, mm, and the penalty per mm of distance, HU. */
const SETTLE_STEP_MM = 0.3;
const AWAY_HU = 60;

/** The brightest place within `mostMm` of a point, with a preference for near ones, and how much it looks like lumen, 0 to 1. */
export function settledPoint(
  volume: GreyVolume,
  at: Vec3,
  mostMm: number,
  lumenHu: number,
): { at: Vec3; like: number } | undefined {
  const reach = Math.floor(mostMm / SETTLE_STEP_MM);
  let best: { at: Vec3; hu: number; score: number } | undefined;
  for (let x = -reach; x <= reach; x++)
    for (let y = -reach; y <= reach; y++)
      for (let z = -reach; z <= reach; z++) {
        const away = SETTLE_STEP_MM * Math.sqrt(x * x + y * y + z * z);
        if (away > mostMm) continue;
        const p = add(at, scale([x, y, z], SETTLE_STEP_MM));
        const hu = valueAt(volume, ...p);
        // bone is brighter than any lumen
        const score = Math.min(hu, 2.2 * lumenHu - hu) - AWAY_HU * away;
        if (!Number.isNaN(hu) && (!best || score > best.score)) best = { at: p, hu, score };
      }
  if (!best) return undefined;
  const { at: place, hu } = best;
  const about = AROUND.map((d) => valueAt(volume, ...add(place, scale(d, ABOUT_MM))));
  const aboutHu = about.reduce((sum, v) => sum + (Number.isNaN(v) ? LUNG_HU : v), 0) / about.length;
  return { at: place, like: likeLumen(hu, aboutHu, lumenHu) };
}
