import { InputFailure } from './failure.js';
import { nearestKey } from './nearest-key.js';
import { quoted } from './quoted-text.js';
import { canonicalUnit, convert, kindOf, type QuantityKind, type UnitOf } from './units.js';

/** One quantity as understood, in the requested unit. */
export interface Quantity {
  ok: true;
  value: number;
  /** Canonical spelling of the written unit. */
  unit: string;
  /** The number as written, in `unit`. */
  number: number;
}

/** Why a text is not a quantity: a sentence that starts with the text and ends with what to write. */
export interface NoQuantity {
  ok: false;
  problem: string;
}

export interface QuantityOptions {
  /** Shown in messages instead of the examples of the kind. */
  examples?: readonly string[];
  /** The unit of a bare number, for fields whose name gives it (`minutes_on_oxygen`). */
  bareUnit?: string;
}

const LONGEST = 64;
const NUMBER = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,4}(?![\d.]))?/;
const PLAIN_NUMBER = new RegExp(`${NUMBER.source}$`);

/**
 * A number written only with digits and a point: no comma, separator, hexadecimal, NaN or infinity. Returns the number, or a sentence that
 * states what is wrong with it.
 */
export function parseNumber(text: string): number | string {
  const trimmed = text.trim();
  if (trimmed.length <= LONGEST && PLAIN_NUMBER.test(trimmed)) {
    const value = Number(trimmed);
    return Number.isFinite(value) ? value : `${quoted(trimmed)} is too large a number.`;
  }
  return (
    numberProblem(trimmed) ??
    `${quoted(trimmed)} is not a number. Write digits and a point only, for example 1.0.`
  );
}

/** Names the usual mistake in a number that does not start with plain digits, or undefined. */
function numberProblem(text: string): string | undefined {
  const shown = quoted(text);
  if (
    /^[+-]?\d{1,3}([,.' _]\d{3})+(?!\d)/.test(text) &&
    /^[+-]?\d{1,3}(,\d{3}$|,\d{3}\D|[' _]\d|[,.]\d{3}[,.])/.test(text)
  ) {
    return /^[+-]?\d{1,3},\d{3}(?![\d,.])/.test(text)
      ? `${shown} has a comma that may be a decimal sign or a thousands separator. Write digits and a decimal point only.`
      : `${shown} has a thousands separator. Write digits and a decimal point only.`;
  }
  const comma = /^([+-]?\d*),(\d+)/.exec(text);
  if (comma) {
    const repaired = text.replace(',', '.');
    return `${shown} has a decimal comma. Write ${quoted(repaired)}.`;
  }
  if (/^[+-]?\.?(nan|inf(inity)?)\b/i.test(text)) return `${shown} is not a finite number.`;
  if (/^[+-]?0[xob]/i.test(text))
    return `${shown} is not a decimal number. Write digits and a decimal point only.`;
  return undefined;
}

/**
 * Reads "8.5 mm" or "8.5mm" as a quantity of `kind`, in the unit `into`. Conversion is exact; nothing is guessed.
 * Units are those of `KINDS`; examples: `parseQuantity('28 kPa', 'pressure', 'mmHg')`.
 */
export function parseQuantity<K extends QuantityKind>(
  text: string,
  kind: K,
  into: UnitOf<K>,
  options: QuantityOptions = {},
): Quantity | NoQuantity {
  const table = kindOf(kind);
  const units = Object.keys(table.units).filter((unit) => unit !== 'fraction');
  const examples = options.examples ?? table.examples;
  const write = `Write for example ${examples.map((e) => `"${e}"`).join(' or ')}. Accepted units: ${units.join(', ')}.`;
  const fail = (problem: string): NoQuantity => ({ ok: false, problem });
  const written = text.replace(/[\u00a0\u2009\u202f]/g, ' ').trim();
  const shown = quoted(text.trim());
  if (written === '') return fail(`is empty. ${write}`);
  if (written.length > LONGEST) return fail(`${shown} is too long for ${table.noun}. ${write}`);

  const slip = numberProblem(written);
  if (slip !== undefined)
    return fail(slip.endsWith('only.') || slip.endsWith('number.') ? `${slip} ${write}` : slip);
  const head = NUMBER.exec(written)?.[0];
  if (head === undefined) return fail(`${shown} does not start with a number. ${write}`);
  const number = Number(head);
  if (!Number.isFinite(number)) return fail(`${shown} is too large a number. ${write}`);
  const rest = written.slice(head.length).trim();
  if (rest === '' && options.bareUnit === undefined) return fail(`${shown} has no unit. ${write}`);
  const spelled = rest === '' ? (options.bareUnit as string) : rest;
  const unit = canonicalUnit(spelled, kind);
  if (unit === undefined) return fail(unitProblem(shown, spelled, units, write));
  const value = convert(number, kind, unit as UnitOf<K>, into);
  return Number.isFinite(value)
    ? { ok: true, value, unit, number }
    : fail(`${shown} is too large a number. ${write}`);
}

function unitProblem(shown: string, spelled: string, units: readonly string[], write: string): string {
  if (/^[\d.,]/.test(spelled)) return `${shown} contains more than one number. ${write}`;
  const near = nearestKey(spelled, units);
  const hint = near === undefined ? '' : ` Did you mean "${near}"?`;
  return `${shown} has the unit ${quoted(spelled)}, which is not known here.${hint} ${write}`;
}

/** A quantity typed after a command-line flag, in the unit `into`. Throws InputFailure (2) that names the flag. */
export function quantityFlag<K extends QuantityKind>(
  flag: string,
  text: string,
  kind: K,
  into: UnitOf<K>,
  options: QuantityOptions = {},
): number {
  const result = parseQuantity(text, kind, into, options);
  if (!result.ok) throw new InputFailure(2, `${flag}: ${result.problem}`);
  return result.value;
}

/** A plain number typed after a command-line flag. Throws InputFailure (2) that names the flag. */
export function numberFlag(flag: string, text: string): number {
  const result = parseNumber(text);
  if (typeof result === 'string') throw new InputFailure(2, `${flag}: ${result}`);
  return result;
}
