import type { Surfaces } from '../../case/case.js';
import { otherAxes, type Vec3 } from '../../foundation/vector.js';
import { isInStack, reachText } from '../../volume/ct/reach.js';
import type { SliceStack } from '../../volume/ct/slice-stack.js';

/** A point that a case gives in its scan. */
export interface ScanPoint {
  name: string;
  /** LPS. */
  at: Vec3;
  /** Where it stands in the case. */
  path: string;
}

/** From the axes of the case to LPS and back: RAS and LPS are each other's negated first two axes. */
export const scanTurn = ({ frame }: Pick<Surfaces, 'frame'>): ((p: Vec3) => Vec3) =>
  frame === 'RAS' ? otherAxes : (p) => p;

/** The points of `from_scan`: the ends in their order, then the sac; none for another case. */
export function scanPoints({ frame, fromScan }: Pick<Surfaces, 'frame' | 'fromScan'>): ScanPoint[] {
  if (!fromScan) return [];
  const turn = scanTurn({ frame });
  return [
    ...fromScan.ends.map(({ name, at, path }) => ({ name, at: turn(at), path: `${path}.at` })),
    { name: 'sac', at: turn(fromScan.sac), path: `${fromScan.path}.sac` },
  ];
}

/** What is wrong with the points: still those of a drafted case, or outside of the scan; by the headers of its slices alone. */
export function wrongPoints(
  points: readonly ScanPoint[],
  stack: SliceStack,
): { path: string; text: string }[] {
  if (points.every(isPlaceholder))
    return points.map(({ path }) => ({
      path,
      text: 'the point is still the placeholder of a drafted case. Read it off the slices; pavm inspect FOLDER --near="x,y,z" lists the opacified vessels about a place.',
    }));
  return points
    .filter(({ at }) => !isInStack(stack, at))
    .map(({ path }) => ({
      path,
      text: `the point lies outside of the scan, or where slices are missing. The scan reaches ${reachText(stack)} (mm, LPS). Check the coordinates and surfaces.frame.`,
    }));
}

/** As `pavm new` writes them: the ends 1, 2, ... mm above the sac, the sac at 0. One alone may be meant. */
const isPlaceholder = ({ name, at: [x, y, z] }: ScanPoint, index: number): boolean =>
  x === 0 && y === 0 && z === (name === 'sac' ? 0 : index + 1);
