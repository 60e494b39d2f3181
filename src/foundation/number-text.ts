/**
 * The one number printer: fixed digits, no locale, no "-0.0", no NaN.
 * Throws on a number that is not finite, since that is a defect of ours: a value that cannot be
 * computed is left out with its reason, never printed.
 */
export function fixed(value: number, digits: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`a number to print is ${value}`);
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace('-', '') : text;
}

/** A measured number as it was written: at most `digits` places and no trailing zeros, so 35 and 34.9 stay apart. */
export function asWritten(value: number, digits: number): string {
  return String(rounded(value, digits));
}

/** Rounds for JSON so that the last bits of a float never differ between machines. */
export function rounded(value: number, digits: number): number {
  return Number(fixed(value, digits));
}

/** `3.4 to 3.9 mm`, from an interval and a unit. */
export function rangeText(interval: readonly [number, number], digits: number, unit: string): string {
  return `${fixed(interval[0], digits)} to ${fixed(interval[1], digits)}${unit ? ` ${unit}` : ''}`;
}
