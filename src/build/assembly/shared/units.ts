// AssemblyScript: coordinates in units of the fifth decimal.

/** Coordinates below this times 10^5 are integers, or half integers, that a double represents exactly. */
const MOST_QUICK: f64 = 20000;
export const UNITS: f64 = 1e5;

/** Whether a coordinate is a 32-bit float and small enough for `unitsOf`. */
export function isQuick(value: f64): bool {
  return abs(value) < MOST_QUICK && <f64>(<f32>value) === value;
}

/** The whole number of units nearest to the absolute value of a coordinate, halves rounded up. */
export function unitsOf(size: f64): f64 {
  return floor(size * UNITS + 0.5);
}
