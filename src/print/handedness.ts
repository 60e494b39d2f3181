import { dot, type Vec3 } from '../foundation/vector.js';
import type { LesionMeasure } from '../geometry/measure.js';

/** One of three places whose order distinguishes a print from its mirror image. */
export interface Landmark {
  what: string;
  at: Vec3;
}

export type Turn = 'clockwise' | 'anticlockwise';

/** Three landmarks and the direction in which their order runs, as seen by a reader of the tag. */
export interface Handedness {
  landmarks: [Landmark, Landmark, Landmark];
  turn: Turn;
}

/** Smallest area of the triangle of three landmarks in the plane of the tag, mm²; below it the order is hard to see. */
const LEAST_AREA_MM2 = 40;

/**
 * The three far ends of vessels, or two and the sac, that are farthest apart in the plane of `right` and `up`, as seen by the reader of the
 * tag; undefined if no three can be told apart.
 */
export function handedness(
  lesion: LesionMeasure,
  { right, up }: { right: Vec3; up: Vec3 },
): Handedness | undefined {
  const marks: Landmark[] = [
    ...lesion.vessels
      .filter((v) => v.centrelineMm.length > 1)
      .map((v) => ({ what: `the far end of ${v.name}`, at: v.centrelineMm[0] })),
    ...(lesion.sac ? [{ what: 'the middle of the sac', at: lesion.sac.centreMm }] : []),
  ];
  let best: Handedness | undefined;
  let widest = LEAST_AREA_MM2;
  for (let i = 0; i < marks.length; i++)
    for (let j = i + 1; j < marks.length; j++)
      for (let k = j + 1; k < marks.length; k++) {
        const [a, b, c] = [marks[i], marks[j], marks[k]];
        const [ax, ay, bx, by, cx, cy] = [a, b, c].flatMap((m) => [dot(m.at, right), dot(m.at, up)]);
        const area = ((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2;
        if (Math.abs(area) <= widest) continue;
        widest = Math.abs(area);
        best = { landmarks: [a, b, c], turn: area > 0 ? 'anticlockwise' : 'clockwise' };
      }
  return best;
}
