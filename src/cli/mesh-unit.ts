import { InputFailure } from '../foundation/failure.js';
import { quoted } from '../foundation/quoted-text.js';

/** Millimetres in one unit of mesh coordinates, by the names that `--unit` takes. */
const UNITS: Record<string, number> = { mm: 1, cm: 10, m: 1000, inch: 25.4 };

/** Millimetres of a `--unit` flag, undefined without one. Throws InputFailure (2) where the unit is not known. */
export function unitFlagMm(command: string, unit: string | undefined): number | undefined {
  if (unit === undefined || Object.hasOwn(UNITS, unit)) return unit === undefined ? undefined : UNITS[unit];
  throw new InputFailure(
    2,
    `pavm ${command}: --unit ${quoted(unit)} is not known. Write one of: ${Object.keys(UNITS).join(', ')}.`,
  );
}
