import { add, cross, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { VesselMeasure, WallStation } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import type { Surface } from '../geometry/surface.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import { meanFwhmMm, type ScanBlur, sigmaAlong } from './blur.js';
import { blurredDisc } from './blurred-disc.js';

/** A vessel with its surface in the scan. */
export interface VesselInScan {
  vessel: VesselMeasure;
  /** The surface that it was measured on. */
  surface: Surface;
}

export interface ScanToRead {
  volume: GreyVolume;
  blur: ScanBlur;
  /** Maps the axes of the surface to those of the scan, LPS. */
  toScan: (point: Vec3) => Vec3;
}

/** Number of directions around the centreline in which the wall is searched for. */
const DIRECTIONS = 32;
/** Least number of directions with a wall for a station to count. */
const LEAST_DIRECTIONS = 12;
const RADIAL_STEP_MM = 0.15;
/** How far inside and outside the drawn wall the image is sampled: in widths of the blur (standard deviations), plus mm. */
const READ_INSIDE = 2.5;
const READ_OUTSIDE = 2.5;
const READ_MORE_MM = 0.6;
/** How far from the drawn wall the one in the image is searched for, mm. */
const SEARCH_MM = 1.5;
const SEARCH_STEP_MM = 0.1;
const COARSE = 4;
/** Least depth below the wall for sampling the lumen, widths of the blur. */
const DEEP = 2.5;
/** Least contrast of the lumen for a wall to be detected, HU. */
const LEAST_CONTRAST_HU = 150;
/** Largest residual of the edge model, as shares of the contrast and of the noise; more indicates a neighbour. */
const MOST_LEFT = 0.05;
const MOST_LEFT_NOISE = 2.5;
/** Greatest number of stations, and least distance between them, mm. */
const MOST_STATIONS = 80;
const STATION_STEP_MM = 0.9;
/**
 * A vessel of up to this many widths of the blur at half maximum is thin: its calibre comes from its summed contrast, if nothing is next to
 * it.
 */
const THIN = 1.6;

/**
 * The wall of a vessel in the scan, station by station along its centreline.
 *
 * Model    a round vessel with the scan's blur; position of the wall and value outside it in each of 32 directions by least squares, with
 *          the lumen's value from deep places, or from the widest parts if there are none; a direction whose neighbour does not fit the
 *          model (another vessel, chest wall, airway, rib) takes the median offset of the others
 * Thin     below 1.6 widths of the blur: summed contrast over that of the lumen, if its surroundings are uniform
 * Left out openings of branches; one calibre at each end; stations with fewer than twelve directions
 * Source   Wörz & Rohr, Med Image Anal 2007 (model fit); Med Phys 2002, integrated density below the width of the blur (both from memory)
 */
export function wallStations(
  { vessel, surface }: VesselInScan,
  scan: ScanToRead,
  lumenHu: number | undefined,
): WallStation[] {
  const line = new Polyline(vessel.centrelineMm);
  const stations: WallStation[] = [];
  for (const at of stationPlaces(vessel)) {
    const found = stationAt(line, at, surface, scan, lumenHu);
    if (found) stations.push({ atMm: at, ...found });
  }
  return stations;
}

/** The lumen's value along a vessel, HU: the median of deep places; undefined if the vessel is too thin to have any. */
export function lumenOf({ vessel, surface }: VesselInScan, scan: ScanToRead): number | undefined {
  const line = new Polyline(vessel.centrelineMm);
  const values: number[] = [];
  const deepMm = DEEP * Math.max(scan.blur.planeMm, scan.blur.normalMm);
  for (const at of stationPlaces(vessel)) {
    const centre = line.pointAt(at);
    const near = surface.closest(subtract(centre, surface.originMm));
    if (!near || near.distance < deepMm) continue;
    const [x, y, z] = scan.toScan(centre);
    const value = valueAt(scan.volume, x, y, z);
    if (!Number.isNaN(value)) values.push(value);
  }
  return values.length >= 3 ? median(values) : undefined;
}

/** The part of a vessel whose wall is compared: from one calibre past the far end to one before the neck, mm. */
export function comparedRange(vessel: VesselMeasure): [from: number, to: number] {
  const calibre = vessel.calibreMm.mean;
  const end = vessel.neck?.atMm ?? new Polyline(vessel.centrelineMm).lengthMm;
  return [calibre, end - calibre];
}

/** Places along the compared part and all of the landing zone, without those over an opening. */
function stationPlaces(vessel: VesselMeasure): number[] {
  const [start, end] = comparedRange(vessel);
  const landing = vessel.landing;
  const step = Math.max(STATION_STEP_MM, (end - start) / MOST_STATIONS);
  const places: number[] = [];
  const inOpening = (at: number): boolean =>
    vessel.branches.some(({ fromMm, toMm }) => at > fromMm - 0.5 && at < toMm + 0.5);
  const take = (from: number, to: number, by: number): void => {
    for (let at = from; at <= to + 1e-9; at += by) if (!inOpening(at)) places.push(at);
  };
  take(start, end, step);
  // a short zone gets its own stations
  if (landing) take(landing.fromMm, landing.toMm, Math.max(0.3, landing.lengthMm / 12));
  return [...new Set(places.map((at) => Math.round(at * 1000) / 1000))].sort((a, b) => a - b);
}

function stationAt(
  line: Polyline,
  at: number,
  surface: Surface,
  scan: ScanToRead,
  lumenHu: number | undefined,
): Omit<WallStation, 'atMm'> | undefined {
  const centre = line.pointAt(at);
  const rays = raysAbout(centre, line.directionAt(at, 1), surface);
  if (!rays) return undefined;
  const surfaceMm = equivalentOf(rays);
  const imageMm = calibreOf(centre, rays, lumenAt(centre, rays, scan) ?? lumenHu, scan);
  return imageMm === undefined ? undefined : { surfaceMm, imageMm };
}

/** Equivalent calibre in the scan at a place without a surface, iterated from an initial guess until it converges. */
export function calibreInScan(
  centre: Vec3,
  along: Vec3,
  guessMm: number,
  lumenHu: number,
  scan: ScanToRead,
): number | undefined {
  let radiusMm = guessMm;
  let calibreMm: number | undefined;
  for (let round = 0; round < 3; round++) {
    const rays = directionsAbout(along).map((direction) => ({ direction, radiusMm }));
    calibreMm = calibreOf(centre, rays, lumenHu, scan);
    if (calibreMm === undefined) return undefined;
    if (Math.abs(calibreMm / 2 - radiusMm) < 0.05) break;
    radiusMm = calibreMm / 2;
  }
  return calibreMm;
}

/** Whether a vessel of this calibre is too thin to be measured by the edges of its wall. */
export const isThin = (calibreMm: number, blur: ScanBlur): boolean => calibreMm < THIN * meanFwhmMm(blur);

/** Calibre of the circle with the area spanned by the rays. */
export const equivalentOf = (rays: readonly { radiusMm: number }[]): number =>
  2 * Math.sqrt(rays.reduce((sum, { radiusMm }) => sum + radiusMm ** 2, 0) / rays.length);

function calibreOf(
  centre: Vec3,
  rays: readonly RayToWall[],
  lumenHu: number | undefined,
  scan: ScanToRead,
): number | undefined {
  if (lumenHu === undefined) return undefined;
  return (
    (isThin(equivalentOf(rays), scan.blur) ? bySummedContrast(centre, rays, lumenHu, scan) : undefined) ??
    byEdges(centre, rays, lumenHu, scan)
  );
}

/** A direction from a place on the axis (unit), and the expected distance of the wall there. */
export interface RayToWall {
  direction: Vec3;
  radiusMm: number;
}

function directionsAbout(along: Vec3): Vec3[] {
  const side = normalize(cross(along, Math.abs(along[2]) < 0.8 ? [0, 0, 1] : [1, 0, 0]));
  const up = cross(along, side);
  return Array.from({ length: DIRECTIONS }, (_, k) => {
    const angle = (2 * Math.PI * k) / DIRECTIONS;
    return add(scale(side, Math.cos(angle)), scale(up, Math.sin(angle)));
  });
}

/** Directions across the vessel with the distance of the drawn wall; undefined if one of them meets no wall. */
function raysAbout(centre: Vec3, along: Vec3, surface: Surface): RayToWall[] | undefined {
  const from = subtract(centre, surface.originMm);
  const rays: RayToWall[] = [];
  for (const direction of directionsAbout(along)) {
    const hit = surface.raycast(from, direction);
    if (!hit) return undefined;
    rays.push({ direction, radiusMm: hit.distance });
  }
  return rays;
}

const read = ({ volume, toScan }: ScanToRead, centre: Vec3, direction: Vec3, atMm: number): number => {
  const [x, y, z] = toScan(add(centre, scale(direction, atMm)));
  return valueAt(volume, x, y, z);
};

/** The lumen at a station, HU: the mean of places deep below the wall in all directions; undefined if there are none. */
export function lumenAt(centre: Vec3, rays: readonly RayToWall[], scan: ScanToRead): number | undefined {
  const deepMm = DEEP * Math.max(scan.blur.planeMm, scan.blur.normalMm);
  let [sum, count] = [0, 0];
  for (const { direction, radiusMm } of rays)
    for (let at = 0; at <= radiusMm - deepMm; at += 0.4) {
      const value = read(scan, centre, direction, at);
      if (Number.isNaN(value)) continue;
      sum += value;
      count++;
    }
  return count >= DIRECTIONS ? sum / count : undefined;
}

/** Equivalent calibre by the wall in each direction. */
function byEdges(
  centre: Vec3,
  rays: readonly RayToWall[],
  lumenHu: number,
  scan: ScanToRead,
): number | undefined {
  const offsets = rays.map((ray) => {
    const found = edgeAlong(centre, ray, lumenHu, scan);
    return found && found.radiusMm - ray.radiusMm;
  });
  const clean = offsets.filter((offset) => offset !== undefined);
  if (clean.length < LEAST_DIRECTIONS) return undefined;
  const usual = median(clean);
  const squares = rays.map(({ radiusMm }, k) => Math.max(0, radiusMm + (offsets[k] ?? usual)) ** 2);
  return 2 * Math.sqrt(squares.reduce((a, b) => a + b, 0) / squares.length);
}

/** Distance of the wall in the image from the centre in one direction, and the value outside it; undefined if a neighbour hides it. */
export function edgeAlong(
  centre: Vec3,
  { direction, radiusMm }: RayToWall,
  lumenHu: number,
  scan: ScanToRead,
): { radiusMm: number; outsideHu: number } | undefined {
  const { volume, blur, toScan } = scan;
  const inScan = subtract(toScan(add(centre, direction)), toScan(centre));
  const sigma = sigmaAlong(blur, inScan, volume.stack.normal);
  const from = Math.max(0, radiusMm - READ_INSIDE * sigma - READ_MORE_MM);
  const count = Math.ceil((radiusMm + READ_OUTSIDE * sigma + READ_MORE_MM - from) / RADIAL_STEP_MM);
  const values = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    values[i] = read(scan, centre, direction, from + i * RADIAL_STEP_MM);
    if (Number.isNaN(values[i])) return undefined;
  }
  const fitted = (radius: number): { left: number; outside: number } => {
    // value = lumen · share + outside · (1 - share): linear in the value outside
    let [a, b, rest] = [0, 0, 0];
    for (let i = 0; i < count; i++) {
      const share = blurredDisc(from + i * RADIAL_STEP_MM, radius, sigma);
      const over = values[i] - lumenHu * share;
      a += (1 - share) ** 2;
      b += (1 - share) * over;
      rest += over * over;
    }
    const outside = a > 1e-6 ? b / a : lumenHu;
    return { left: Math.max(0, rest - 2 * outside * b + outside * outside * a), outside };
  };
  const low = Math.max(SEARCH_STEP_MM, radiusMm - SEARCH_MM);
  const tries = Math.round((radiusMm + SEARCH_MM - low) / SEARCH_STEP_MM) + 1;
  const found: { left: number; outside: number }[] = [];
  const tried = (k: number): { left: number; outside: number } => {
    found[k] ??= fitted(low + k * SEARCH_STEP_MM);
    return found[k];
  };
  // every fourth place, then those around the best of them
  let best = 0;
  const look = (k: number): void => {
    if (tried(k).left < tried(best).left) best = k;
  };
  for (let k = 0; k < tries; k += COARSE) look(k);
  const middle = best;
  for (let k = Math.max(0, middle - COARSE); k <= Math.min(tries - 1, middle + COARSE); k++) look(k);
  if (best === 0 || best === tries - 1) return undefined;
  const [before, here, after] = [best - 1, best, best + 1].map((k) => tried(k).left);
  const bend = before - 2 * here + after;
  const radius = low + (best + (bend > 0 ? (0.5 * (before - after)) / bend : 0)) * SEARCH_STEP_MM;
  const contrast = lumenHu - found[best].outside;
  const leftHu = Math.sqrt(here / Math.max(1, count - 2));
  if (contrast < LEAST_CONTRAST_HU) return undefined;
  const fits = leftHu <= MOST_LEFT * contrast + MOST_LEFT_NOISE * blur.noiseHu;
  return fits ? { radiusMm: radius, outsideHu: found[best].outside } : undefined;
}

/**
 * Equivalent calibre by the summed contrast of the section: blur spreads the contrast but preserves its sum. Undefined if the ring around
 * the vessel is not uniform, so that a neighbour would count as lumen.
 */
export function bySummedContrast(
  centre: Vec3,
  rays: readonly RayToWall[],
  lumenHu: number,
  scan: ScanToRead,
): number | undefined {
  const sigma = Math.max(scan.blur.planeMm, scan.blur.normalMm);
  const reach = Math.max(...rays.map(({ radiusMm }) => radiusMm)) + 3.2 * sigma;
  const ring = rays.map(({ direction }) => read(scan, centre, direction, reach + 0.3));
  if (ring.some(Number.isNaN)) return undefined;
  const outside = median(ring);
  const contrast = lumenHu - outside;
  if (contrast < LEAST_CONTRAST_HU) return undefined;
  const isEven = ring.every((value) => Math.abs(value - outside) < 0.1 * contrast + 4 * scan.blur.noiseHu);
  if (!isEven) return undefined;
  const step = reach / Math.ceil(reach / RADIAL_STEP_MM);
  let area = 0;
  for (const { direction } of rays)
    for (let at = step / 2; at < reach; at += step) {
      const value = read(scan, centre, direction, at);
      if (Number.isNaN(value)) return undefined;
      area += ((value - outside) / contrast) * at * step * ((2 * Math.PI) / DIRECTIONS);
    }
  return area > 0 ? 2 * Math.sqrt(area / Math.PI) : undefined;
}
