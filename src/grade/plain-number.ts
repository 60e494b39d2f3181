/** A number with at most six significant digits and no trailing zeros: `0.0312`, `5.6`, `-12`. Throws if it is not finite. */
export function plainNumber(value: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`a number to print is ${value}`);
  return String(Number(value.toPrecision(6)));
}
