import { add, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import type { Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { valueAt } from '../volume/ct/grey-volume.js';
import { opacifiedHu, SOFT_HU, structureAt, type VesselLine } from './opacified.js';
import type { ScanRegion } from './scan-region.js';
import type { ScanToRead } from './wall.js';
import type { BloodSurface } from './wall-points.js';

/** The surfaces of a lesion and what was measured on them. */
export interface LesionToSearch {
  surfaces: readonly (BloodSurface & { role: string })[];
  /** Their lines in the axes of the surfaces. */
  vessels: readonly VesselMeasure[];
}

/** The structure that a missed vessel joins, and its resulting kind. */
export interface Joined {
  kind: 'feeder-candidate' | 'side-branch' | 'unclear';
  /** A vessel's name, or `sac`. */
  joins: string;
  /** Position on that vessel, mm from its far end. */
  joinsAtMm?: number;
}

/**
 * Whether the contrast along the axis, from the middle of the structure it joins to one calibre outside, stays above a share of the
 * lumen's.
 */
export function isContinuous(
  region: ScanRegion,
  from: Vec3,
  line: Polyline,
  calibreMm: number,
  continuous: number,
  { volume, blur }: ScanToRead,
): boolean {
  const outside = localOutside(region, from, opacifiedHu(blur));
  const least = outside + continuous * (blur.lumenHu - outside);
  const inwards = normalize(subtract(line.pointAt(0), line.pointAt(Math.min(line.lengthMm, calibreMm))));
  // the line is accurate to a voxel: the brightest neighbour within a quarter of the calibre is used as the axis
  const aside = Math.min(region.stepMm, calibreMm / 4);
  const offsets: Vec3[] = [-aside, 0, aside].flatMap((dx) =>
    [-aside, 0, aside].flatMap((dy) => [-aside, 0, aside].map((dz): Vec3 => [dx, dy, dz])),
  );
  const onAxis = (p: Vec3): number =>
    offsets.reduce((most, [dx, dy, dz]) => {
      const value = valueAt(volume, p[0] + dx, p[1] + dy, p[2] + dz);
      // outside the scan the value is NaN
      return Number.isNaN(value) ? most : Math.max(value, most);
    }, Number.NEGATIVE_INFINITY);
  for (let at = 0.3; at <= calibreMm / 2; at += 0.3) {
    const isBright = onAxis(add(from, scale(inwards, at))) >= least;
    // the far wall of a thin vessel, past its middle
    if (at > 0.9 && !isBright) break;
    if (!isBright) return false;
  }
  for (let at = 0; at <= Math.min(calibreMm, line.lengthMm); at += 0.3)
    if (onAxis(line.pointAt(at)) < least) return false;
  return true;
}

/** Median of places that are not opacified within 6 mm, HU. */
function localOutside(region: ScanRegion, about: Vec3, bright: number): number {
  const values: number[] = [];
  const [nx, ny, nz] = region.size;
  const reach = Math.ceil(6 / region.stepMm);
  const [x, y, z] = about.map((v, k) => Math.round((v - region.originMm[k]) / region.stepMm));
  for (let a = Math.max(0, x - reach); a <= Math.min(nx - 1, x + reach); a++)
    for (let b = Math.max(0, y - reach); b <= Math.min(ny - 1, y + reach); b++)
      for (let c = Math.max(0, z - reach); c <= Math.min(nz - 1, z + reach); c++) {
        const value = region.grey[(a * ny + b) * nz + c];
        if (value < bright) values.push(value);
      }
  return values.length > 0 ? median(values) : SOFT_HU;
}

export interface Junction {
  lesion: LesionToSearch;
  lines: readonly VesselLine[];
  region: ScanRegion;
  /** The place inside a surface from which the piece leaves. */
  from: { at: Vec3; owner: number };
  /** The piece, starting from that place. */
  line: Polyline;
  calibreMm: number;
  blurMm: number;
}

export function joint(junction: Junction): Joined {
  const { lesion, lines, from } = junction;
  const { name, measured } = structureAt(lesion.surfaces[from.owner - 1], lines, from.at);
  if (name === 'sac') return { kind: 'feeder-candidate', joins: 'sac' };
  // without a centreline the position on the vessel is unknown
  if (!measured) return { kind: 'unclear', joins: name };
  const { vessel, line } = measured;
  const joinsAtMm = line.project(from.at).at;
  const neck = vessel.neck?.atMm;
  const isByNeck = neck !== undefined && joinsAtMm > neck - vessel.calibreMm.mean;
  if (!isByNeck) return { kind: 'side-branch', joins: name, joinsAtMm };
  if (runsIntoSac(junction, measured)) return { kind: 'feeder-candidate', joins: 'sac' };
  return { kind: 'unclear', joins: name, joinsAtMm };
}

/** Whether a piece that leaves next to a neck would, if extended backwards, meet the sac before the axis of the adjacent vessel. */
function runsIntoSac(
  { lesion, lines, region, line, calibreMm, blurMm }: Junction,
  { vessel, line: axis }: VesselLine,
): boolean {
  // the first millimetres of a piece run from the surface to its axis
  const start = line.pointAt(Math.min(line.lengthMm, calibreMm));
  const further = line.pointAt(Math.min(line.lengthMm, 3 * calibreMm));
  const inwards = normalize(subtract(start, further));
  const { originMm, stepMm, size } = region;
  const neck = vessel.neck!.atMm;
  for (let at = 0; at <= 2 * calibreMm + 2 * blurMm + vessel.calibreMm.mean; at += stepMm / 2) {
    const p = add(start, scale(inwards, at));
    const near = axis.project(p);
    if (near.at < neck && near.distanceMm < vessel.calibreMm.mean / 4) return false;
    const [x, y, z] = p.map((v, k) => Math.round((v - originMm[k]) / stepMm));
    if (x < 0 || y < 0 || z < 0 || x >= size[0] || y >= size[1] || z >= size[2]) return false;
    const owner = region.owner[(x * size[1] + y) * size[2] + z];
    if (owner > 0 && structureAt(lesion.surfaces[owner - 1], lines, p).name === 'sac') return true;
  }
  return false;
}
