import { InputFailure } from '../../foundation/failure.js';
import { fixed } from '../../foundation/number-text.js';
import { quantityFlag } from '../../foundation/quantity.js';
import { quoted } from '../../foundation/quoted-text.js';
import type { Vec3 } from '../../foundation/vector.js';

/** The default and the largest accepted `--reach`, mm. */
const USUAL_REACH_MM = 40;
export const FARTHEST_MM = 500;

/** `--sac` and `--reach` of a command: where in a tree the lesion is. */
export interface SacFlags {
  /** Three coordinates in the unit of the file, with commas between them. */
  sac?: string;
  /** A length. */
  reach?: string;
}

/** The place in the unit of the file and the reach in mm; undefined without `--sac`. Throws InputFailure (2). */
export function sacFlag({ sac, reach }: SacFlags): { at: Vec3; reachMm: number } | undefined {
  if (sac === undefined) {
    if (reach === undefined) return undefined;
    throw new InputFailure(2, '--reach: it counts from the sac. Give --sac "X,Y,Z" as well.');
  }
  return { at: pointFlag('--sac', sac, 'the unit of the mesh'), reachMm: reachFlag(reach, FARTHEST_MM) };
}

/** Three coordinates separated by commas; `unit` names their unit in messages. Throws InputFailure (2). */
export function pointFlag(flag: string, text: string, unit: string): Vec3 {
  const at = text
    .replace(/^\[|\]$/g, '')
    .split(',')
    .map((part) => (part.trim() === '' ? Number.NaN : Number(part)));
  if (at.length !== 3 || !at.every(Number.isFinite))
    throw new InputFailure(
      2,
      `${flag}: ${quoted(text)} is not a point. Write three coordinates in ${unit}, for example ${flag}="-25.0,4.0,90.0".`,
    );
  return at as Vec3;
}

/** The reach around a place, mm. Throws InputFailure (2). */
export function reachFlag(reach: string | undefined, farthestMm: number): number {
  const reachMm = reach === undefined ? USUAL_REACH_MM : quantityFlag('--reach', reach, 'length', 'mm');
  if (!(reachMm > 0 && reachMm <= farthestMm))
    throw new InputFailure(
      2,
      `--reach: ${quoted(reach ?? '')} is ${fixed(reachMm, 1)} mm; above 0 and up to ${farthestMm} mm is accepted.`,
    );
  return reachMm;
}

/** Throws InputFailure (2) for a place outside the lumen. */
export function refuseOutside(): never {
  throw new InputFailure(
    2,
    '--sac: the point is not inside the surface. Check the coordinates and their unit.',
  );
}
