import FlatQueue from 'flatqueue';
import { add, distance, dot, length, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { valueAt } from '../volume/ct/grey-volume.js';
import { FWHM_PER_SIGMA } from './blur.js';
import { depthsOf, nearestVessel, opacifiedHu, SOFT_HU } from './opacified.js';
import { beside, grown, placeMm, type ScanRegion } from './scan-region.js';
import { calibreInScan, type ScanToRead } from './wall.js';
import type { BloodSurface } from './wall-points.js';

/** An opacified vessel that goes on from the lesion and lies in no surface; places mm LPS. */
export interface MissedVessel {
  kind: 'feeder-candidate' | 'side-branch' | 'unclear';
  /** On its axis, one calibre outside of the surface. */
  pointMm: Vec3;
  calibreMm: number;
  lengthMm: number;
  /** A vessel's name, or `sac`. */
  joins: string;
  /** Where on that vessel, mm from its far end. */
  joinsAtMm?: number;
  leadsToMm: Vec3;
}

export interface LesionToSearch {
  surfaces: readonly (BloodSurface & { role: string })[];
  /** Their lines in the axes of the surfaces. */
  vessels: readonly VesselMeasure[];
}

/** Lung, HU: common practice, no source; and the part of the contrast against it that a place between two bright ones of a thin vessel may have. */
const LUNG_HU = -820;
const FAINT = 0.6;
/** Darker than this beside a thin vessel is lung that its blur has reached, HU. */
const LUNG_BESIDE_HU = -300;
/** Brighter than the lumen by this, HU, is bone, calcium or metal. */
const TOO_BRIGHT_HU = 150;
/** Contrast along the axis at a junction, as a part of the lumen's. */
const CONTINUOUS = 0.7;
/** Thinner or shorter than this is not told: mm, voxels, mm. */
const LEAST_CALIBRE_MM = 1.5;
const LEAST_CALIBRE_VOXELS = 2;
const LEAST_LENGTH_MM = 5;
/** The calibre is that of so much of the way, mm. */
const CALIBRE_OVER_MM = 15;
/** A vessel that merely goes on leaves its far end within this angle. */
const ONWARD_COSINE = Math.cos(Math.PI / 4);
const UNREACHED = -1;

/**
 * Opacified vessels that are continuous with the lesion and outside of every surface by more than the blur.
 *
 * Contact   what is brighter than soft tissue and its noise is followed from inside of the surfaces outwards; each place
 *           where it comes out is a junction, and what lies nearest to it by way of the vessel is its piece
 * Axis      from the junction to the farthest place of the piece, where a step costs less the deeper it lies
 * Left out  what merely goes on from a far end; wide shells about a wall drawn too thin; bone; pieces thin or short (see above); junctions
 *           where the contrast along the axis falls below 70 % of the lumen's: contact is not continuity
 */
export function missedVessels(lesion: LesionToSearch, region: ScanRegion, scan: ScanToRead): MissedVessel[] {
  const blurMm = FWHM_PER_SIGMA * Math.max(scan.blur.planeMm, scan.blur.normalMm);
  const { grey, owner, stepMm } = region;
  const bright = opacifiedHu(scan.blur);
  // a step more than the blur, since both the wall and the grid are known to half a step
  const shell = grown(region, (place) => owner[place] > 0, blurMm + stepMm);
  const reached = followed(region, bright);
  const patches = patchesOf(region, shell, reached);
  if (patches.length === 0) return [];
  const depth = depthsOf(region, (place) => reached[place] === 1);
  const pieces = piecesOf(region, shell, reached, depth, patches);
  const ends = lesion.vessels.flatMap((vessel) => farEndOf(vessel, scan));
  const lines = lesion.vessels.map((vessel) => ({
    vessel,
    line: new Polyline(vessel.centrelineMm.map(scan.toScan)),
  }));
  const found: MissedVessel[] = [];
  for (const { patch, way } of pieces) {
    const axis = smoothed(way.map((place) => placeMm(region, place)));
    if (axis.length < 3) continue;
    const from = nearestInside(region, way[0], blurMm + 3 * stepMm);
    if (!from) continue;
    // the piece's way begins a blur outside of the surface
    const line = new Polyline([from.at, ...axis]);
    if (line.lengthMm < LEAST_LENGTH_MM) continue;
    const values = axis.map(([x, y, z]) => valueAt(scan.volume, x, y, z)).filter((v) => !Number.isNaN(v));
    if (values.length === 0 || median(values) > scan.blur.lumenHu + TOO_BRIGHT_HU) continue;
    const guess = median(way.map((place) => depth[place])) + 0.5 * stepMm;
    const calibreMm = calibreAlong(line, guess, scan);
    const patchMm = widthOf(region, patch);
    if (calibreMm === undefined || calibreMm < Math.max(LEAST_CALIBRE_MM, LEAST_CALIBRE_VOXELS * stepMm))
      continue;
    // a shell about a wall that was drawn too thin
    if (patchMm > 3 * calibreMm + 2 * blurMm) continue;
    const onward = normalize(subtract(line.pointAt(Math.min(line.lengthMm, 2 * calibreMm)), line.pointAt(0)));
    if (
      ends.some(
        ({ at, outward, calibre }) =>
          distance(at, from.at) <= calibre + blurMm && dot(outward, onward) >= ONWARD_COSINE,
      )
    )
      continue;
    if (!isContinuous(region, from.at, line, calibreMm, scan)) continue;
    found.push({
      ...joint(lesion, lines, from.owner, from.at),
      pointMm: line.pointAt(Math.min(line.lengthMm, calibreMm)),
      calibreMm,
      lengthMm: line.lengthMm,
      leadsToMm: axis[axis.length - 1],
    });
  }
  return found.sort((a, b) => b.calibreMm - a.calibreMm);

  /** A fainter place is part of a thin vessel only where lung lies beside it: in soft tissue it is that tissue. */
  function isByLung(place: number): boolean {
    let found = false;
    beside(region, place, (other) => {
      if (grey[other] < LUNG_BESIDE_HU) found = true;
    });
    return found;
  }

  /** 1 where the place is bright and can be come to from inside of a surface by bright places, in lung with single fainter ones between them. */
  function followed({ size }: ScanRegion, least: number): Uint8Array {
    const faint = LUNG_HU + FAINT * (scan.blur.lumenHu - LUNG_HU);
    const out = new Uint8Array(grey.length);
    const stack: number[] = [];
    for (let place = 0; place < grey.length; place++)
      if (owner[place] > 0 && grey[place] >= least) {
        out[place] = 1;
        stack.push(place);
      }
    while (stack.length > 0) {
      const place = stack.pop()!;
      const isBright = grey[place] >= least;
      beside({ size }, place, (other) => {
        if (out[other] === 1) return;
        if (!(grey[other] >= least || (isBright && grey[other] >= faint && isByLung(other)))) return;
        out[other] = 1;
        stack.push(other);
      });
    }
    return out;
  }
}

/** Places just outside of the shell where what was followed comes out, by junction; the largest first. */
function patchesOf(region: ScanRegion, shell: Uint8Array, reached: Uint8Array): number[][] {
  const isRim = new Uint8Array(shell.length);
  for (let place = 0; place < shell.length; place++) {
    if (reached[place] === 0 || shell[place] === 1) continue;
    let touches = false;
    beside(region, place, (other) => {
      if (shell[other] === 1 && reached[other] === 1) touches = true;
    });
    if (touches) isRim[place] = 1;
  }
  const patches: number[][] = [];
  for (let place = 0; place < isRim.length; place++) {
    if (isRim[place] !== 1) continue;
    const patch = [place];
    isRim[place] = 2;
    for (let i = 0; i < patch.length; i++)
      beside(region, patch[i], (other) => {
        if (isRim[other] !== 1) return;
        isRim[other] = 2;
        patch.push(other);
      });
    patches.push(patch);
  }
  return patches.filter(({ length: count }) => count >= 2).sort((a, b) => b.length - a.length);
}

/** For each junction the way to the farthest place that is nearer to it than to another, from the junction on. */
function piecesOf(
  region: ScanRegion,
  shell: Uint8Array,
  reached: Uint8Array,
  depth: Float32Array,
  patches: readonly number[][],
): { patch: number[]; way: number[] }[] {
  const spent = new Map<number, number>();
  const next = new Map<number, number>();
  const label = new Map<number, number>();
  const queue = new FlatQueue<number>();
  patches.forEach((patch, p) => {
    // the deepest place of a junction is its middle
    const middle = patch.reduce((best, place) => (depth[place] > depth[best] ? place : best), patch[0]);
    spent.set(middle, 0);
    next.set(middle, UNREACHED);
    label.set(middle, p);
    queue.push(middle, 0);
  });
  const farthest = patches.map((patch) => ({ place: patch[0], cost: -1 }));
  while (queue.length > 0) {
    const cost = queue.peekValue()!;
    const place = queue.pop()!;
    if (cost > spent.get(place)!) continue;
    const p = label.get(place)!;
    if (cost > farthest[p].cost) farthest[p] = { place, cost };
    beside(region, place, (other, steps) => {
      if (reached[other] === 0 || shell[other] === 1) return;
      const c = cost + steps * region.stepMm * (1 + 1.5 / (0.3 + depth[other]));
      if (c >= (spent.get(other) ?? Number.POSITIVE_INFINITY)) return;
      spent.set(other, c);
      next.set(other, place);
      label.set(other, p);
      queue.push(other, c);
    });
  }
  return patches.map((patch, p) => {
    const way: number[] = [];
    for (let place = farthest[p].place; place !== UNREACHED && place !== undefined; place = next.get(place)!)
      way.push(place);
    return { patch, way: way.reverse() };
  });
}

/** The steps of the grid out of a line: running means of five points, ends kept. */
function smoothed(points: readonly Vec3[]): Vec3[] {
  return points.map((_, i) => {
    const half = Math.min(2, i, points.length - 1 - i);
    let sum: Vec3 = [0, 0, 0];
    for (let k = i - half; k <= i + half; k++) sum = add(sum, points[k]);
    return scale(sum, 1 / (2 * half + 1));
  });
}

function nearestInside(
  region: ScanRegion,
  place: number,
  withinMm: number,
): { at: Vec3; owner: number } | undefined {
  const [nx, ny, nz] = region.size;
  const z = place % nz;
  const y = ((place - z) / nz) % ny;
  const x = (place - z - nz * y) / (nz * ny);
  const reach = Math.ceil(withinMm / region.stepMm);
  let best: number | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (let a = Math.max(0, x - reach); a <= Math.min(nx - 1, x + reach); a++)
    for (let b = Math.max(0, y - reach); b <= Math.min(ny - 1, y + reach); b++)
      for (let c = Math.max(0, z - reach); c <= Math.min(nz - 1, z + reach); c++) {
        const other = (a * ny + b) * nz + c;
        const far = (a - x) ** 2 + (b - y) ** 2 + (c - z) ** 2;
        if (region.owner[other] === 0 || far >= least) continue;
        least = far;
        best = other;
      }
  return best === undefined ? undefined : { at: placeMm(region, best), owner: region.owner[best] };
}

/** Median calibre over the first 15 mm, from a blur behind the junction on. */
function calibreAlong(line: Polyline, guessMm: number, scan: ScanToRead): number | undefined {
  const here: ScanToRead = { ...scan, toScan: (p) => p };
  const calibres: number[] = [];
  for (let at = 2; at <= Math.min(CALIBRE_OVER_MM, line.lengthMm - 1); at += 1) {
    const calibre = calibreInScan(
      line.pointAt(at),
      line.directionAt(at, 2.5),
      Math.max(guessMm, 0.5),
      scan.blur.lumenHu,
      here,
    );
    if (calibre !== undefined) calibres.push(calibre);
  }
  return calibres.length >= 2 ? median(calibres) : undefined;
}

/** Largest extent of the places of a junction, mm. */
function widthOf(region: ScanRegion, patch: readonly number[]): number {
  const points = patch.map((place) => placeMm(region, place));
  const first = points.reduce(
    (far, p) => (distance(p, points[0]) > distance(far, points[0]) ? p : far),
    points[0],
  );
  return points.reduce((most, p) => Math.max(most, distance(p, first)), 0);
}

function farEndOf(
  { centrelineMm, calibreMm }: VesselMeasure,
  { toScan }: ScanToRead,
): { at: Vec3; outward: Vec3; calibre: number }[] {
  const line = new Polyline(centrelineMm.map(toScan));
  const inner = line.pointAt(Math.min(line.lengthMm, 1.5 * calibreMm.mean));
  const outward = subtract(line.pointAt(0), inner);
  if (!(length(outward) > 0)) return [];
  return [{ at: line.pointAt(0), outward: normalize(outward), calibre: calibreMm.mean }];
}

/** Whether the contrast along the axis, from the middle of what it joins to one calibre outside, stays above 70 % of the lumen's. */
function isContinuous(
  region: ScanRegion,
  from: Vec3,
  line: Polyline,
  calibreMm: number,
  { volume, blur }: ScanToRead,
): boolean {
  const outside = localOutside(region, from, opacifiedHu(blur));
  const least = outside + CONTINUOUS * (blur.lumenHu - outside);
  const inwards = normalize(subtract(line.pointAt(0), line.pointAt(Math.min(line.lengthMm, calibreMm))));
  // the line is known to a voxel: its brightest neighbour within a quarter of the calibre stands for the axis
  const aside = Math.min(region.stepMm, calibreMm / 4);
  const offsets: Vec3[] = [-aside, 0, aside].flatMap((dx) =>
    [-aside, 0, aside].flatMap((dy) => [-aside, 0, aside].map((dz): Vec3 => [dx, dy, dz])),
  );
  const onAxis = (p: Vec3): number =>
    offsets.reduce((most, [dx, dy, dz]) => {
      const value = valueAt(volume, p[0] + dx, p[1] + dy, p[2] + dz);
      // outside of the scan there is no number
      return Number.isNaN(value) ? most : Math.max(value, most);
    }, Number.NEGATIVE_INFINITY);
  for (let at = 0.3; at <= calibreMm / 2; at += 0.3) {
    const isBright = onAxis(add(from, scale(inwards, at))) >= least;
    // the other wall of a thin vessel: the middle has been passed
    if (at > 0.9 && !isBright) break;
    if (!isBright) return false;
  }
  for (let at = 0; at <= Math.min(calibreMm, line.lengthMm); at += 0.3)
    if (onAxis(line.pointAt(at)) < least) return false;
  return true;
}

/** Median of what is not opacified within 6 mm, HU. */
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

/** What a piece joins, and what it then is. */
function joint(
  { surfaces }: LesionToSearch,
  lines: readonly { vessel: VesselMeasure; line: Polyline }[],
  owner: number,
  at: Vec3,
): Pick<MissedVessel, 'kind' | 'joins' | 'joinsAtMm'> {
  const surface = surfaces[owner - 1];
  const own =
    surface.role === 'whole'
      ? nearestVessel(lines, at)
      : lines.find(({ vessel }) => vessel.name === surface.name);
  if (surface.role === 'sac' || !own) return { kind: 'feeder-candidate', joins: 'sac' };
  const joinsAtMm = own.line.project(at).at;
  const neck = own.vessel.neck?.atMm;
  const isByNeck = neck !== undefined && joinsAtMm > neck - own.vessel.calibreMm.mean;
  return { kind: isByNeck ? 'unclear' : 'side-branch', joins: own.vessel.name, joinsAtMm };
}
