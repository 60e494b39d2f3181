import { cross, type Vec3 } from '../../foundation/vector.js';
import { principalAxes } from '../principal-axes.js';
import { chainedTurns, type Rotation, transposed, turnOfQuaternion } from './rigid-pose.js';
import type { SurfaceSamples } from './surface-samples.js';

/** Turns spread over all turns; about 25° from one to the next. */
const EVEN_TURNS = 600;

/**
 * Turns to start from: the principal axes of the one set of samples on those of the other in all 24 proper ways, and turns spread
 * evenly over all there are, so that no start is asked of the user and shapes with equal axes are covered.
 */
export function startTurns(fixed: SurfaceSamples, moving: SurfaceSamples): Rotation[] {
  const from = transposed(axesOf(moving));
  const to = axesOf(fixed);
  return [
    ...axisTurns().map((way) => chainedTurns(chainedTurns(transposed(from), way), to)),
    ...evenTurns(EVEN_TURNS),
  ];
}

/** Principal axes as the columns of a turn. */
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

/** The 24 turns that bring the axes onto one another, with their signs. */
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

/** Turns spread evenly over all there are (Alexa, "Super-Fibonacci spirals", CVPR 2022, from memory). */
export function evenTurns(count: number): Rotation[] {
  return Array.from({ length: count }, (_, i) => {
    const s = i + 0.5;
    const [r, q] = [Math.sqrt(s / count), Math.sqrt(1 - s / count)];
    const [a, b] = [(2 * Math.PI * s) / Math.SQRT2, (2 * Math.PI * s) / PSI];
    return turnOfQuaternion([r * Math.sin(a), r * Math.cos(a), q * Math.sin(b), q * Math.cos(b)]);
  });
}
