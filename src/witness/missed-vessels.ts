import FlatQueue from 'flatqueue';
import {
  add,
  cross,
  distance,
  dot,
  length,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import { Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { placeMm } from '../grid/even-grid.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { valueAt } from '../volume/ct/grey-volume.js';
import { widestFwhmMm } from './blur.js';
import { isContinuous, type Joined, joint, type LesionToSearch } from './junction.js';
import { depthsOf, LUNG_HU, opacifiedHu, SOFT_HU, type VesselLine, vesselLines } from './opacified.js';
import { beside, gathered, grown, type ScanRegion } from './scan-region.js';
import { calibreInScan, type ScanToRead } from './wall.js';

/** An opacified vessel that goes on from the lesion and lies in no surface; places mm LPS. */
export interface MissedVessel extends Joined {
  /** On its axis, one calibre outside of the surface. */
  pointMm: Vec3;
  calibreMm: number;
  lengthMm: number;
  leadsToMm: Vec3;
  /** On its axis as well, as far from the surface as a named end would lie. */
  endMm: Vec3;
}

const endAlong = (lengthMm: number, calibreMm: number): number =>
  Math.max(Math.min(lengthMm, calibreMm), Math.min(END_AT_MM, lengthMm - END_BEFORE * calibreMm));

/** The part of the contrast against lung that a place between two bright ones of a thin vessel may have. */
const FAINT = 0.6;
/** Darker than this beside a thin vessel is lung that its blur has reached, HU. */
const LUNG_BESIDE_HU = -300;
/** Brighter than the lumen by this, HU, is bone, calcium or metal. */
const TOO_BRIGHT_HU = 150;
/** No wall is drawn too thin by as much as this more than the blur, mm. */
const AWAY_MM = 3;
/** By how much more a step through soft tissue costs than one through the lumen. */
const DIM_COSTS = 3;
/** A named end lies this far along a vessel, mm, where it goes on so far, and this many calibres before its last place. */
const END_AT_MM = 25;
const END_BEFORE = 1.5;
const CENTRE_ROUNDS = 3;
const UNREACHED = -1;

/**
 * Opacified vessels that are continuous with the lesion and outside of every surface by more than the blur.
 *
 * Contact   what is brighter than soft tissue and its noise is followed from inside of the surfaces outwards; each place
 *           where it comes out is a junction, and what lies nearest to it by way of the vessel is its piece
 * Axis      from the junction to the farthest place of the piece, where a step costs less the deeper it lies
 * Left out  what merely goes on from a far end; wide shells about a wall drawn too thin; bone; pieces thin or short (see above); junctions
 *           where the contrast along the axis falls below a part of the lumen's: contact is not continuity
 *
 * Limits are the rules `missed-*`.
 */
export function missedVessels(
  lesion: LesionToSearch,
  region: ScanRegion,
  scan: ScanToRead,
  rules: Pick<Rules, 'byId'>,
): MissedVessel[] {
  const blurMm = widestFwhmMm(scan.blur);
  const leastLengthMm = numberOf(rules, 'missed-least-length');
  const leastCalibreMm = Math.max(
    numberOf(rules, 'missed-least-calibre'),
    numberOf(rules, 'missed-least-voxels') * region.stepMm,
  );
  const calibreOverMm = numberOf(rules, 'missed-calibre-over');
  const onwardCosine = Math.cos((numberOf(rules, 'missed-onward-angle') * Math.PI) / 180);
  const continuous = numberOf(rules, 'missed-continuous');
  const { grey, owner, stepMm } = region;
  const bright = opacifiedHu(scan.blur);
  // a step more than the blur, since both the wall and the grid are known to half a step
  const shell = grown(region, (place) => owner[place] > 0, blurMm + stepMm);
  const reached = followed(region, bright);
  const patches = patchesOf(region, shell, reached);
  if (patches.length === 0) return [];
  const depth = depthsOf(region, (place) => reached[place] === 1);
  const pieces = piecesOf(region, shell, reached, depth, patches);
  const lines = vesselLines(lesion.vessels, scan.toScan);
  const ends = lines.flatMap(farEndOf);
  const found: MissedVessel[] = [];
  let near: Uint8Array | undefined;
  for (const { patch, way } of pieces) {
    // a junction lies a blur outside of the surface, and a vessel may run beside the surface for long before it joins
    const inside = wayToSurface(region, shell, reached, way[0], scan.blur.lumenHu);
    if (!inside) continue;
    const axis = smoothed([...inside.way, ...way].map((place) => placeMm(region, place)));
    if (axis.length < 3) continue;
    const from = { at: placeMm(region, inside.surface), owner: owner[inside.surface] };
    const line = new Polyline([from.at, ...axis]);
    if (line.lengthMm < leastLengthMm) continue;
    const values = axis.map(([x, y, z]) => valueAt(scan.volume, x, y, z)).filter((v) => !Number.isNaN(v));
    if (values.length === 0 || median(values) > scan.blur.lumenHu + TOO_BRIGHT_HU) continue;
    const guess = median(way.map((place) => depth[place])) + 0.5 * stepMm;
    const calibreMm = calibreAlong(line, guess, calibreOverMm, scan);
    const patchMm = widthOf(region, patch);
    if (calibreMm === undefined || calibreMm < leastCalibreMm) continue;
    // a shell about a wall that was drawn too thin; a vessel that runs beside the surface also leads away from it
    if (patchMm > 3 * calibreMm + 2 * blurMm && !leadsAway(way)) continue;
    const onward = normalize(subtract(line.pointAt(Math.min(line.lengthMm, 2 * calibreMm)), line.pointAt(0)));
    if (
      ends.some(
        ({ at, outward, calibre }) =>
          distance(at, from.at) <= calibre + blurMm && dot(outward, onward) >= onwardCosine,
      )
    )
      continue;
    if (!isContinuous(region, from.at, line, calibreMm, continuous, scan)) continue;
    found.push({
      ...joint({ lesion, lines, region, from, line, calibreMm, blurMm }),
      pointMm: centred(line, Math.min(line.lengthMm, calibreMm), calibreMm, scan),
      calibreMm,
      lengthMm: line.lengthMm,
      leadsToMm: axis[axis.length - 1],
      endMm: centred(line, endAlong(line.lengthMm, calibreMm), calibreMm, scan),
    });
  }
  return found.sort((a, b) => b.calibreMm - a.calibreMm);

  function leadsAway(way: readonly number[]): boolean {
    near ??= grown(region, (place) => owner[place] > 0, blurMm + stepMm + AWAY_MM);
    return way.some((place) => near![place] === 0);
  }

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
  const seen = new Uint8Array(isRim.length);
  const patches: number[][] = [];
  for (let place = 0; place < isRim.length; place++)
    if (isRim[place] === 1 && seen[place] === 0)
      patches.push(gathered(region, place, seen, (other) => isRim[other] === 1));
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

/**
 * The brightest short way from a junction through the shell to a surface: the place of the surface where it ends, and the way from there
 * to the junction, both left out. Undefined where the shell holds none.
 */
function wayToSurface(
  region: ScanRegion,
  shell: Uint8Array,
  reached: Uint8Array,
  junction: number,
  lumenHu: number,
): { surface: number; way: number[] } | undefined {
  const { grey, owner } = region;
  const spent = new Map([[junction, 0]]);
  const back = new Map<number, number>();
  const queue = new FlatQueue<number>();
  queue.push(junction, 0);
  while (queue.length > 0) {
    const cost = queue.peekValue()!;
    const place = queue.pop()!;
    if (owner[place] > 0) {
      const way: number[] = [];
      for (let at = back.get(place)!; at !== junction; at = back.get(at)!) way.push(at);
      return { surface: place, way };
    }
    if (cost > spent.get(place)!) continue;
    beside(region, place, (other, steps) => {
      if (reached[other] === 0 || shell[other] === 0) return;
      const dim = Math.min(1, Math.max(0, (lumenHu - grey[other]) / (lumenHu - SOFT_HU)));
      const c = cost + steps * (1 + DIM_COSTS * dim);
      if (c >= (spent.get(other) ?? Number.POSITIVE_INFINITY)) return;
      spent.set(other, c);
      back.set(other, place);
      queue.push(other, c);
    });
  }
  return undefined;
}

/** Median calibre over the first part of a line, from a blur behind the junction on. */
function calibreAlong(line: Polyline, guessMm: number, overMm: number, scan: ScanToRead): number | undefined {
  const here: ScanToRead = { ...scan, toScan: (p) => p };
  const calibres: number[] = [];
  for (let at = 2; at <= Math.min(overMm, line.lengthMm - 1); at += 1) {
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

/** The middle of what is opacified across a line that is known to a step of the grid, at a place of it. */
function centred(line: Polyline, at: number, calibreMm: number, { volume, blur }: ScanToRead): Vec3 {
  const along = line.directionAt(at, 2.5);
  const right = perpendicular(along);
  const up = cross(along, right);
  const least = opacifiedHu(blur);
  const reach = 0.75 * calibreMm;
  const step = calibreMm / 12;
  let middle = line.pointAt(at);
  for (let round = 0; round < CENTRE_ROUNDS; round++) {
    let [total, sum]: [number, Vec3] = [0, [0, 0, 0]];
    for (let u = -reach; u <= reach; u += step)
      for (let v = -reach; v <= reach; v += step) {
        if (u * u + v * v > reach * reach) continue;
        const aside = add(scale(right, u), scale(up, v));
        const value = valueAt(volume, ...add(middle, aside));
        const weight = Math.min(1, Math.max(0, (value - least) / (blur.lumenHu - least)));
        if (!(weight > 0)) continue;
        total += weight;
        sum = add(sum, scale(aside, weight));
      }
    if (total === 0) break;
    middle = add(middle, scale(sum, 1 / total));
  }
  return middle;
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

function farEndOf({ vessel, line }: VesselLine): { at: Vec3; outward: Vec3; calibre: number }[] {
  const calibre = vessel.calibreMm.mean;
  const outward = subtract(line.pointAt(0), line.pointAt(Math.min(line.lengthMm, 1.5 * calibre)));
  return length(outward) > 0 ? [{ at: line.pointAt(0), outward: normalize(outward), calibre }] : [];
}
