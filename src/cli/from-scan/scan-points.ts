import type { Surfaces } from '../../case/case.js';
import { otherAxes, type Vec3 } from '../../foundation/vector.js';
import { isInStack, reachText } from '../../volume/ct/reach.js';
import type { SliceStack } from '../../volume/ct/slice-stack.js';

/** A point of a case in its scan. */
export interface ScanPoint {
  name: string;
  /** LPS. */
  at: Vec3;
  /** Its path in the case file. */
  path: string;
}

/** From the axes of the case to LPS and back: RAS and LPS are each other's negated first two axes. */
export const scanTurn = ({ frame }: Pick<Surfaces, 'frame'>): ((p: Vec3) => Vec3) =>
  frame === 'RAS' ? otherAxes : (p) => p;

/** The points of `from_scan`: the ends in order, then the sac; empty for other cases. */
export function scanPoints({ frame, fromScan }: Pick<Surfaces, 'frame' | 'fromScan'>): ScanPoint[] {
  if (!fromScan) return [];
  const turn = scanTurn({ frame });
  return [
    ...fromScan.ends.map(({ name, at, path }) => ({ name, at: turn(at), path: `${path}.at` })),
    { name: 'sac', at: turn(fromScan.sac), path: `${fromScan.path}.sac` },
  ];
}

/** Problems with the points: placeholders of a draft, or outside the scan. Uses only the headers of the slices. */
export function wrongPoints(
  points: readonly ScanPoint[],
  stack: SliceStack,
): { path: string; text: string }[] {
  if (points.every(isPlaceholder))
    return points.map(({ path }) => ({
      path,
      text: 'the point is still the placeholder of a draft. Read it off the slices; pavm inspect FOLDER --near="x,y,z" lists the opacified vessels about a place.',
    }));
  return points
    .filter(({ at }) => !isInStack(stack, at))
    .map(({ path }) => ({
      path,
      text: `the point is outside the scan, or where slices are missing. The scan reaches ${reachText(stack)} (mm, LPS). Check the coordinates and surfaces.frame.`,
    }));
}

/** Placeholders as written by `pavm new`: the ends 1, 2, ... mm above the sac, the sac at 0. A single such point may be intended. */
const isPlaceholder = ({ name, at: [x, y, z] }: ScanPoint, index: number): boolean =>
  x === 0 && y === 0 && z === (name === 'sac' ? 0 : index + 1);
