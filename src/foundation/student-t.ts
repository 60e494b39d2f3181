import { cube, fourthPower } from './power.js';

/** Student's t, 97.5 %, for 1 to 30 degrees of freedom (Fisher and Yates's table, from memory). */
const T975 = [
  12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.16, 2.145, 2.131,
  2.12, 2.11, 2.101, 2.093, 2.086, 2.08, 2.074, 2.069, 2.064, 2.06, 2.056, 2.052, 2.048, 2.045, 2.042,
];

/** The same, 99.5 %. */
const T995 = [
  63.657, 9.925, 5.841, 4.604, 4.032, 3.707, 3.499, 3.355, 3.25, 3.169, 3.106, 3.055, 3.012, 2.977, 2.947,
  2.921, 2.898, 2.878, 2.861, 2.845, 2.831, 2.819, 2.807, 2.797, 2.787, 2.779, 2.771, 2.763, 2.756, 2.75,
];

/** Half width of the interval that contains 95 % of a normal distribution, in standard deviations. */
export const Z95 = 1.96;

/** The same for 99 %. */
export const Z99 = 2.576;

/** Half width of a 95 % interval for a number of degrees of freedom, in standard errors. */
export const student95 = (freedom: number): number => T975[freedom - 1] ?? pastTable(Z95, freedom);

/** Half width of a 99 % interval for a number of degrees of freedom, in standard errors. */
export const student99 = (freedom: number): number => T995[freedom - 1] ?? pastTable(Z99, freedom);

/**
 * Student's t of many degrees of freedom from the normal distribution.
 *
 * Formula   t = z + (z³ + z)/(4n) + (5z⁵ + 16z³ + 3z)/(96n²)
 * Source    Abramowitz and Stegun 1964, 26.7.5 (from memory): within 0.001 of the table at 30
 * Units     degrees of freedom; result without unit
 * Checked   tests/foundation/student-t.test.ts
 */
function pastTable(z: number, freedom: number): number {
  return (
    z + (cube(z) + z) / (4 * freedom) + (5 * z * fourthPower(z) + 16 * cube(z) + 3 * z) / (96 * freedom ** 2)
  );
}
