import { cross, type Vec3 } from '../../foundation/vector.js';
import { principalAxes } from '../principal-axes.js';
import { chainedTurns, type Rotation, transposed, turnOfQuaternion } from './rigid-pose.js';
import type { SurfaceSamples } from './surface-samples.js';

/** Number of rotations spread over all orientations, about 25° apart. */
const EVEN_TURNS = 600;

/**
 * Starting rotations: the principal axes of one set of samples on those of the other in all 24 proper ways, and rotations spread evenly
 * over all orientations, so that the user need not give a start and shapes with equal axes are covered.
 */
export function startTurns(fixed: SurfaceSamples, moving: SurfaceSamples): Rotation[] {
  const from = transposed(axesOf(moving));
  const to = axesOf(fixed);
  return [
    ...axisTurns().map((way) => chainedTurns(chainedTurns(transposed(from), way), to)),
    ...evenTurns(EVEN_TURNS),
  ];
}

/** Principal axes as the columns of a rotation. */
function axesOf({ points, count }: SurfaceSamples): Rotation {
  const sums = [
    [0, 0, 0],
    [0, 0, 0],
    [0, 0, 0],
  ];
  for (let p = 0; p < 3 * count; p += 3)
    for (let i = 0; i < 3; i++) for (let k = 0; k < 3; k++) sums[i][k] += points[p + i] * points[p + k];
  const spread = (a: Vec3): number =>
    a.reduce((sum, x, i) => sum + a.reduce((inner, y, k) => inner + x * y * sums[i][k], 0), 0);
  const [first, second] = principalAxes(sums).sort((a, b) => spread(b) - spread(a));
  return transposed([first, second, cross(first, second)]);
}

/** The 24 rotations that map the axes onto one another, with signs. */
function axisTurns(): Rotation[] {
  const units: Vec3[] = [0, 1, 2].flatMap((k) =>
    [1, -1].map((sign) => [0, 1, 2].map((i) => (i === k ? sign : 0)) as Vec3),
  );
  return units.flatMap((x) =>
    units
      .filter((y) => x.every((c, i) => c * y[i] === 0))
      .map((y): Rotation => transposed([x, y, cross(x, y)])),
  );
}

/** Root of x⁴ = x + 4. */
const PSI = 1.533751168755204;

/** Rotations spread evenly over all orientations (Alexa, "Super-Fibonacci spirals", CVPR 2022, from memory). */
export function evenTurns(count: number): Rotation[] {
  return Array.from({ length: count }, (_, i) => {
    const s = i + 0.5;
    const [r, q] = [Math.sqrt(s / count), Math.sqrt(1 - s / count)];
    const [a, b] = [(2 * Math.PI * s) / Math.SQRT2, (2 * Math.PI * s) / PSI];
    return turnOfQuaternion([r * Math.sin(a), r * Math.cos(a), q * Math.sin(b), q * Math.cos(b)]);
  });
}
