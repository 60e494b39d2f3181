/**
 * The only number printer: fixed digits, no locale, no "-0.0", no NaN. Throws on a number that is not finite, since that is a defect of
 * this program: a value that cannot be computed is left out with its reason, never printed.
 */
export function fixed(value: number, digits: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`cannot print the number ${value}`);
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace('-', '') : text;
}

/** A measured number as written: at most `digits` decimals and no trailing zeros, so that 35 and 34.9 stay distinct. */
export function asWritten(value: number, digits: number): string {
  return String(rounded(value, digits));
}

/**
 * A number printed next to the limits by which it is judged: `digits` decimals, and more if it would otherwise be printed as equal to a
 * limit from which it differs, so that 5.03 next to 5 is not printed as 5.0.
 */
export function besideLimits(value: number, digits: number, limits: readonly number[]): string {
  for (let places = digits; places < MOST_PLACES; places++) {
    const text = fixed(value, places);
    if (limits.every((limit) => limit === value || Number(text) !== limit)) return text;
  }
  return fixed(value, MOST_PLACES);
}

const MOST_PLACES = 6;

/** Rounds for JSON, so that the last bits of a float never differ between machines. */
export function rounded(value: number, digits: number): number {
  return Number(fixed(value, digits));
}

/** Coordinates as `1.0, -2.5, 3.0`. */
export function coordinates(point: ArrayLike<number>, digits = 1): string {
  return Array.from(point, (x) => fixed(x, digits)).join(', ');
}

/** A point as `[1.0, -2.5, 3.0]`, as in a case file. */
export function pointText(point: ArrayLike<number>, digits = 1): string {
  return `[${coordinates(point, digits)}]`;
}

/** `3.4 to 3.9 mm`, from an interval and a unit. */
export function rangeText(interval: readonly [number, number], digits: number, unit: string): string {
  return `${fixed(interval[0], digits)} to ${fixed(interval[1], digits)}${unit ? ` ${unit}` : ''}`;
}
