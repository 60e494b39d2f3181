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
import { patchesOf, type Piece, piecesOf, reachedFrom, wayToSurface } from './missed-pieces.js';
import { depthsOf, opacifiedHu, type VesselLine, vesselLines } from './opacified.js';
import { grown, type ScanRegion } from './scan-region.js';
import { calibreInScan, type ScanToRead } from './wall.js';

/** An opacified vessel that continues from the lesion and is in no surface; places mm LPS. */
export interface MissedVessel extends Joined {
  /** On its axis, one calibre outside the surface. */
  pointMm: Vec3;
  calibreMm: number;
  lengthMm: number;
  leadsToMm: Vec3;
  /** Also on its axis, as far from the surface as a named end would be. */
  endMm: Vec3;
}

const endAlong = (lengthMm: number, calibreMm: number): number =>
  Math.max(Math.min(lengthMm, calibreMm), Math.min(END_AT_MM, lengthMm - END_BEFORE * calibreMm));

/** Anything brighter than the lumen by this is bone, calcium or metal, HU. */
const TOO_BRIGHT_HU = 150;
/** Limit, beyond the blur, to which a wall may be drawn too thin, mm. */
const AWAY_MM = 3;
/** A named end is this far along a vessel, mm, if it is that long, and this many calibres before its last place. */
const END_AT_MM = 25;
const END_BEFORE = 1.5;
const CENTRE_ROUNDS = 3;

/**
 * Opacified vessels that are continuous with the lesion and outside all surfaces by more than the blur.
 *
 * Contact   places brighter than soft tissue and its noise are followed from inside the surfaces outwards; each exit is a junction, and the
 *           places nearest to it along the vessel are its piece
 * Axis      from the junction to the farthest place of the piece, where deeper steps cost less
 * Left out  continuations of a far end; wide shells around a wall drawn too thin; bone; thin or short pieces (see above); junctions where
 *           the contrast along the axis falls below a share of the lumen's, since contact is not continuity
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
  const { owner, stepMm } = region;
  // one step more than the blur, since both wall and grid are accurate to half a step
  const shell = grown(region, (place) => owner[place] > 0, blurMm + stepMm);
  const reached = reachedFrom(region, opacifiedHu(scan.blur), scan.blur.lumenHu);
  const patches = patchesOf(region, shell, reached);
  if (patches.length === 0) return [];
  const depth = depthsOf(region, (place) => reached[place] === 1);
  const pieces = piecesOf(region, shell, reached, depth, patches);
  const lines = vesselLines(lesion.vessels, scan.toScan);
  const limits = missedLimits(rules, stepMm);
  const search: Search = {
    region,
    shell,
    reached,
    depth,
    scan,
    limits,
    blurMm,
    ends: lines.flatMap(farEndOf),
    wideShell: once(() => grown(region, (place) => owner[place] > 0, blurMm + stepMm + AWAY_MM)),
  };
  const found = pieces.flatMap((piece): MissedVessel[] => {
    const vessel = vesselOf(piece, search);
    if (!vessel) return [];
    const { from, line, calibreMm, leadsToMm } = vessel;
    return [
      {
        ...joint({ lesion, lines, region, from, line, calibreMm, blurMm }),
        pointMm: centred(line, Math.min(line.lengthMm, calibreMm), calibreMm, scan),
        calibreMm,
        lengthMm: line.lengthMm,
        leadsToMm,
        endMm: centred(line, endAlong(line.lengthMm, calibreMm), calibreMm, scan),
      },
    ];
  });
  return found.sort((a, b) => b.calibreMm - a.calibreMm);
}

interface MissedLimits {
  leastLengthMm: number;
  leastCalibreMm: number;
  calibreOverMm: number;
  onwardCosine: number;
  continuous: number;
}

function missedLimits(rules: Pick<Rules, 'byId'>, stepMm: number): MissedLimits {
  return {
    leastLengthMm: numberOf(rules, 'missed-least-length'),
    leastCalibreMm: Math.max(
      numberOf(rules, 'missed-least-calibre'),
      numberOf(rules, 'missed-least-voxels') * stepMm,
    ),
    calibreOverMm: numberOf(rules, 'missed-calibre-over'),
    onwardCosine: Math.cos((numberOf(rules, 'missed-onward-angle') * Math.PI) / 180),
    continuous: numberOf(rules, 'missed-continuous'),
  };
}

/** The data by which every piece is judged. */
interface Search {
  region: ScanRegion;
  /** The surfaces and the blur around them. */
  shell: Uint8Array;
  reached: Uint8Array;
  depth: Float32Array;
  scan: ScanToRead;
  limits: MissedLimits;
  blurMm: number;
  ends: readonly FarEnd[];
  /** The shell around a wall drawn too thin. */
  wideShell: () => Uint8Array;
}

/**
 * The vessel of a piece, with the place of the surface from which it leaves; undefined if it is not a vessel or only continues a far end.
 */
function vesselOf(
  { patch, way }: Piece,
  { region, shell, reached, depth, scan, limits, blurMm, ends, wideShell }: Search,
): { from: { at: Vec3; owner: number }; line: Polyline; calibreMm: number; leadsToMm: Vec3 } | undefined {
  // a junction is one blur outside the surface, and a vessel may run next to the surface for a long way before it joins
  const inside = wayToSurface(region, shell, reached, way[0], scan.blur.lumenHu);
  if (!inside) return undefined;
  const axis = smoothed([...inside.way, ...way].map((place) => placeMm(region, place)));
  if (axis.length < 3) return undefined;
  const from = { at: placeMm(region, inside.surface), owner: region.owner[inside.surface] };
  const line = new Polyline([from.at, ...axis]);
  if (line.lengthMm < limits.leastLengthMm) return undefined;
  const values = axis.map(([x, y, z]) => valueAt(scan.volume, x, y, z)).filter((v) => !Number.isNaN(v));
  if (values.length === 0 || median(values) > scan.blur.lumenHu + TOO_BRIGHT_HU) return undefined;
  const guess = median(way.map((place) => depth[place])) + 0.5 * region.stepMm;
  const calibreMm = calibreAlong(line, guess, limits.calibreOverMm, scan);
  if (calibreMm === undefined || calibreMm < limits.leastCalibreMm) return undefined;
  // a shell around a wall drawn too thin; a vessel that runs next to the surface also leads away from it
  const isWide = widthOf(region, patch) > 3 * calibreMm + 2 * blurMm;
  if (isWide && !way.some((place) => wideShell()[place] === 0)) return undefined;
  const onward = normalize(subtract(line.pointAt(Math.min(line.lengthMm, 2 * calibreMm)), line.pointAt(0)));
  const goesOn = ends.some(
    (end) =>
      distance(end.at, from.at) <= end.calibre + blurMm &&
      (dot(end.outward, onward) >= limits.onwardCosine || isStub(end, line, blurMm)),
  );
  if (goesOn || !isContinuous(region, from.at, line, calibreMm, limits.continuous, scan)) return undefined;
  return { from, line, calibreMm, leadsToMm: axis[axis.length - 1] };
}

/** Whether a piece stays in the straight extension of a vessel: a stub shorter than wide, across which its line runs in any direction. */
function isStub({ at, outward, calibre }: FarEnd, line: Polyline, blurMm: number): boolean {
  return line.points.every((point) => {
    const past = subtract(point, at);
    const along = dot(past, outward);
    return along <= calibre + blurMm && length(subtract(past, scale(outward, along))) <= calibre / 2 + blurMm;
  });
}

/** A value that is computed on first use and then cached. */
function once<T>(compute: () => T): () => T {
  let value: { is: T } | undefined;
  return () => {
    value ??= { is: compute() };
    return value.is;
  };
}

/** Smooths the steps of the grid out of a line: running means of five points, ends kept. */
function smoothed(points: readonly Vec3[]): Vec3[] {
  return points.map((_, i) => {
    const half = Math.min(2, i, points.length - 1 - i);
    let sum: Vec3 = [0, 0, 0];
    for (let k = i - half; k <= i + half; k++) sum = add(sum, points[k]);
    return scale(sum, 1 / (2 * half + 1));
  });
}

/** Median calibre over the first part of a line, starting one blur past the junction. */
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

/** The middle of the opacified section at a place of a line that is accurate to a grid step. */
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

interface FarEnd {
  at: Vec3;
  outward: Vec3;
  calibre: number;
}

function farEndOf({ vessel, line }: VesselLine): FarEnd[] {
  const calibre = vessel.calibreMm.mean;
  const outward = subtract(line.pointAt(0), line.pointAt(Math.min(line.lengthMm, 1.5 * calibre)));
  return length(outward) > 0 ? [{ at: line.pointAt(0), outward: normalize(outward), calibre }] : [];
}
