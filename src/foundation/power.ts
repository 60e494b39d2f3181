/**
 * Powers that give the same bits on every release of the engine. The engine's own operator does not: the last digit of a cube or of a
 * fractional power changed between Node 22 and Node 24, and with it surfaces made from a scan and the check sum of a print model. `x ** 2`
 * and powers of two written as constants are the same everywhere, so they need none of these functions.
 */

/** The third power, by multiplication. */
export const cube = (x: number): number => x * x * x;

/** The fourth power, by multiplication. */
export const fourthPower = (x: number): number => x * x * (x * x);

/** Any power of a positive number, or a positive power of 0; NaN for a negative base. */
export function power(base: number, exponent: number): number {
  return base === 0 && exponent > 0 ? 0 : Math.exp(exponent * Math.log(base));
}

const TENS = Array.from({ length: 23 }, (_, k) => Number(`1e${k}`));

/** Ten to an integer power: the nearest number to it. */
export const tenTo = (exponent: number): number => TENS[exponent] ?? Number(`1e${exponent}`);
