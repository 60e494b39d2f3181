import { InputFailure } from '../../foundation/failure.js';
import { quoted } from '../../foundation/quoted-text.js';

/** Millimetres per unit of mesh coordinates, by the names that `--unit` accepts. */
const UNITS = { mm: 1, cm: 10, m: 1000, inch: 25.4 } as const;

/** Millimetres of a `--unit` flag, undefined without one. Throws InputFailure (2) for an unknown unit. */
export function unitFlagMm(command: string, unit: string | undefined): number | undefined {
  if (unit === undefined) return undefined;
  if (Object.hasOwn(UNITS, unit)) return UNITS[unit as keyof typeof UNITS];
  throw new InputFailure(
    2,
    `pavm ${command}: --unit ${quoted(unit)} is not known. Write one of: ${Object.keys(UNITS).join(', ')}.`,
  );
}

/** Decimals that give a coordinate in a unit to 0.01 mm or finer. */
export const unitDigits = (unitMm: number): number => Math.max(0, Math.ceil(Math.log10(unitMm) + 2 - 1e-9));

/** The unit as named in a case; undefined if a case cannot state it. */
export const caseUnit = (unitMm: number): keyof typeof UNITS | undefined =>
  (Object.keys(UNITS) as (keyof typeof UNITS)[]).find((name) => UNITS[name] === unitMm);
