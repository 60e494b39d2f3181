import {
  add,
  cross,
  dot,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import { Polyline } from '../geometry/polyline.js';
import type { Surface } from '../geometry/surface.js';
import type { Vessel } from '../result/result.generated.js';
import type { GreyVolume } from '../volume/ct/grey-volume.js';
import { type GreyPicture, OUTSIDE_SCAN, wholeValueAt } from './grey-picture.js';

/** Both walls at a place along the vessel, mm to either side of the centreline; absent if there is none. */
export interface WallPair {
  atMm: number;
  upMm: number;
  downMm: number;
}

/** The scan on the strip swept by one direction across the vessel along its centreline. */
export interface VesselStrip {
  /** Horizontal: along the vessel from `fromMm`; vertical: the direction across it. */
  grey: GreyPicture;
  /** The surface, as gap-free runs. */
  surface: WallPair[][];
  /** The wall in the scan: round, of its equivalent calibre. */
  image: WallPair[];
  /** The direction upwards at both ends and in the middle of the landing zone, LPS. */
  up: { atMm: number; direction: Vec3 }[];
}

/** A vessel with its centreline drawn straight, from before its far end to past its neck. */
export interface StraightVessel {
  fromMm: number;
  toMm: number;
  /** Half the height of a strip, mm. */
  reachMm: number;
  /** Two directions across the vessel, perpendicular to each other. */
  strips: [VesselStrip, VesselStrip];
}

/** A vessel with its surface and scan, and their relative positions. */
export interface StraightInput {
  vessel: Vessel;
  /** The surface that it was measured on, in the axes of the file. */
  surface: Surface;
  volume: GreyVolume;
  /** From the axes of the file to LPS and back; it is its own inverse. */
  turn: (point: Vec3) => Vec3;
  /** Shift with which the surface fits the scan best, LPS: the middle of the wall in the scan. */
  shiftMm: Vec3;
  reachMm: number;
}

const BEFORE_MM = 4;
const PAST_MM = 8;
/** Greatest number of columns of a strip. */
const MOST_COLUMNS = 800;
const STEP_MM = 0.3;
const WALL_STEP_MM = 0.5;

/**
 * The scan along a vessel with its centreline drawn straight. Distances along the centreline and across it are true; at a bend,
 * structures away from it are stretched or compressed. The direction across turns as little as possible along the vessel.
 */
export function straightened({
  vessel,
  surface,
  volume,
  turn,
  shiftMm,
  reachMm,
}: StraightInput): StraightVessel {
  const line = new Polyline((vessel.centreline_mm ?? []).map(([x, y, z]) => turn([x, y, z])));
  const endMm = vessel.neck?.at_mm ?? line.lengthMm;
  const [fromMm, toMm] = [-BEFORE_MM, endMm + (vessel.neck ? PAST_MM : BEFORE_MM)];
  const stepMm = Math.max(STEP_MM, (toMm - fromMm) / MOST_COLUMNS);
  const columns = Math.ceil((toMm - fromMm) / stepMm);
  const places = placesAlong(line, fromMm, stepMm, columns);
  const zone = vessel.landing && (vessel.landing.from_mm + vessel.landing.to_mm) / 2;
  const told = zone === undefined ? [0, endMm] : [0, zone, endMm];
  const nearest = (atMm: number): PlaceAlong =>
    places[Math.max(0, Math.min(columns - 1, Math.floor((atMm - fromMm) / stepMm)))];
  const strip = (of: (place: PlaceAlong) => Vec3): VesselStrip => ({
    grey: greyStrip(volume, places, of, stepMm, reachMm),
    surface: surfaceWall(endMm, nearest, of, surface, turn, reachMm),
    image: (vessel.wall?.stations ?? []).map(({ at_mm, image_mm }) => {
      const middle = dot(shiftMm, of(nearest(at_mm)));
      return { atMm: at_mm, upMm: middle + image_mm / 2, downMm: middle - image_mm / 2 };
    }),
    up: told.map((atMm) => ({ atMm, direction: of(nearest(atMm)) })),
  });
  return { fromMm, toMm, reachMm, strips: [strip(({ side }) => side), strip(({ other }) => other)] };
}

interface PlaceAlong {
  point: Vec3;
  side: Vec3;
  other: Vec3;
}

/** Centres of the columns, with both directions across; extended straight past the ends of the line. */
function placesAlong(line: Polyline, fromMm: number, stepMm: number, columns: number): PlaceAlong[] {
  let side: Vec3 | undefined;
  return Array.from({ length: columns }, (_, i) => {
    const at = fromMm + (i + 0.5) * stepMm;
    const on = Math.max(0, Math.min(line.lengthMm, at));
    const along = line.directionAt(on, 2);
    const point = add(line.pointAt(on), scale(along, at - on));
    const from = side ?? firstSide(along);
    side = normalize(subtract(from, scale(along, dot(from, along))));
    return { point, side, other: cross(along, side) };
  });
}

/** The body axis that is most perpendicular to a direction, feet to head first. */
function firstSide(along: Vec3): Vec3 {
  const axes: Vec3[] = [
    [0, 0, 1],
    [0, -1, 0],
    [1, 0, 0],
  ];
  return axes.find((axis) => Math.abs(dot(axis, along)) < 0.7) ?? perpendicular(along);
}

function greyStrip(
  volume: GreyVolume,
  places: readonly PlaceAlong[],
  of: (place: PlaceAlong) => Vec3,
  stepMm: number,
  reachMm: number,
): GreyPicture {
  const rows = 2 * Math.ceil(reachMm / stepMm);
  const values = new Int16Array(rows * places.length).fill(OUTSIDE_SCAN);
  places.forEach((place, i) => {
    const up = of(place);
    for (let j = 0; j < rows; j++) {
      const [x, y, z] = add(place.point, scale(up, (rows / 2 - j - 0.5) * stepMm));
      values[j * places.length + i] = wholeValueAt(volume, x, y, z);
    }
  });
  return { columns: places.length, rows, stepMm, values };
}

function surfaceWall(
  endMm: number,
  nearest: (atMm: number) => PlaceAlong,
  of: (place: PlaceAlong) => Vec3,
  surface: Surface,
  turn: (point: Vec3) => Vec3,
  reachMm: number,
): WallPair[][] {
  const runs: WallPair[][] = [[]];
  const count = Math.max(1, Math.ceil(endMm / WALL_STEP_MM));
  for (let i = 0; i <= count; i++) {
    const atMm = (endMm * i) / count;
    const place = nearest(atMm);
    const from = subtract(turn(place.point), surface.originMm);
    const up = turn(of(place));
    const [upMm, downMm] = [up, scale(up, -1)].map((d) => surface.raycast(from, d, reachMm)?.distance);
    if (upMm !== undefined && downMm !== undefined)
      runs[runs.length - 1].push({ atMm, upMm, downMm: -downMm });
    else if (runs[runs.length - 1].length > 0) runs.push([]);
  }
  return runs.filter((run) => run.length > 1);
}
