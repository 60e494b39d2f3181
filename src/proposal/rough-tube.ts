import { add, type Vec3 } from '../foundation/vector.js';
import { localFit, Polyline } from '../geometry/polyline.js';
import { median } from '../geometry/statistics.js';
import { valueAt } from '../volume/ct/grey-volume.js';
import { roughWall } from './rough-wall.js';
import type { Scene } from './scene.js';
import {
  calibreAt,
  calibresOf,
  centroidOf,
  DIRECTIONS,
  directionsOf,
  fillNaN,
  framed,
  LEAST_WALLS,
  OPEN,
  STATION_MM,
  type Frames,
  type Tube,
} from './tube.js';

const ROUNDS = 5;
/** Number of stations to either side over which the value of the axis is taken. */
const PLATEAU = 6;

type TubeScene = Pick<Scene, 'volume' | 'lumenHu' | 'brightestHu'>;

/** A course centred in its vessel, with the calibre at half level, before the blur is known. */
export function roughTube(course: readonly Vec3[], scene: TubeScene, mostMm: number): Tube {
  let line = new Polyline(course).resampled(STATION_MM);
  line = new Polyline(line.points.map((_, i) => localFit(line, line.at[i], 2).point));
  let tube: Tube | undefined;
  for (let round = 0; round < ROUNDS; round++) {
    const calibres: number[] | undefined = tube && calibresOf(tube);
    const window = (i: number): number =>
      Math.max(2, 0.8 * (calibres?.[Math.min(i, calibres.length - 1)] ?? 2));
    const frame = framed([...line.points], window);
    tube = withRoughWalls(frame, scene, mostMm);
    if (round === ROUNDS - 1) break;
    line = recentred(tube, window).resampled(STATION_MM);
  }
  return tube!;
}

/** The line through the centroids of the sections. */
function recentred(tube: Tube, window: (i: number) => number): Polyline {
  const moved = tube.centres.map((centre, i) => add(centre, centroidOf(tube, i)));
  const line = new Polyline(moved);
  return new Polyline(moved.map((_, i) => localFit(line, line.at[i], window(i)).point));
}

function withRoughWalls(frame: Frames, { volume, lumenHu, brightestHu }: TubeScene, mostMm: number): Tube {
  const count = frame.centres.length;
  // a thin vessel never shows the full value, so the half level is relative to its axis
  const axis = frame.centres.map((centre) => valueAt(volume, ...centre));
  const plateau = axis.map((_, i) => {
    const near = axis.slice(Math.max(0, i - PLATEAU), i + PLATEAU + 1).filter((v) => !Number.isNaN(v));
    return near.length === 0 ? lumenHu : Math.min(lumenHu, median(near));
  });
  const tube: Tube = {
    ...frame,
    radii: new Float64Array(count * DIRECTIONS),
    lumenHu: Float64Array.from(plateau),
    contrastHu: new Float64Array(count),
    hidden: new Float64Array(count),
    bright: new Float64Array(count),
    apart: new Float64Array(count),
  };
  // over the whole path, because along a bone its axis is as bright as the bone
  const mostHu = brightestHu + Math.max(0, median(axis.filter((hu) => !Number.isNaN(hu))) - lumenHu);
  const usual = new Array<number>(count);
  const contrast = new Array<number>(count);
  for (let i = 0; i < count; i++) {
    const search = { lumenHu: plateau[i], mostHu, mostMm };
    const walls = directionsOf(frame, i).map((direction) =>
      roughWall(volume, frame.centres[i], direction, search),
    );
    const seen = walls.filter((wall) => wall !== undefined && wall !== 'bone');
    // most directions without a wall or bone: the greatest width
    const isOpen = walls.filter((wall) => wall === undefined).length > DIRECTIONS / 2;
    usual[i] = isOpen ? mostMm : Number.NaN;
    if (seen.length >= LEAST_WALLS || (isOpen && seen.length > 0))
      usual[i] = median(seen.map(({ atMm }) => atMm));
    let hidden = 0;
    walls.forEach((wall, k) => {
      const isOwn = wall !== undefined && wall !== 'bone' && wall.atMm <= OPEN * usual[i];
      if (!isOwn) hidden++;
      tube.radii[DIRECTIONS * i + k] = isOwn ? wall.atMm : isOpen ? mostMm : Number.NaN;
    });
    tube.hidden[i] = hidden / DIRECTIONS;
    contrast[i] = plateau[i] - median(seen.map(({ outsideHu }) => outsideHu));
  }
  // a section inside a bone has no wall at all
  fillNaN(usual);
  fillNaN(contrast);
  tube.contrastHu.set(contrast);
  for (let n = 0; n < tube.radii.length; n++)
    if (Number.isNaN(tube.radii[n])) tube.radii[n] = usual[Math.floor(n / DIRECTIONS)] ?? mostMm;
  return tube;
}

/** Sections before `start`, past the point of the vessel, take its radii if they show no wall. */
export function evenBefore(tube: Tube, start: number): void {
  const usual = calibreAt(tube, start);
  for (let i = 0; i < start; i++) {
    if (tube.hidden[i] <= 0.5 && calibreAt(tube, i) < 1.4 * usual) continue;
    tube.radii.copyWithin(DIRECTIONS * i, DIRECTIONS * start, DIRECTIONS * (start + 1));
  }
}
