/**
 * A number in one unit. A plain number is accepted for any unit, so that arithmetic stays simple. A number in one unit is never accepted
 * for another: kPa for mmHg, or a fraction for a length, does not compile. The types do not exist at run time. The result of a formula is a
 * plain number again: the name it is assigned to gives its unit.
 */
export type In<U extends string> = number & { readonly unit?: U };

export type Mm = In<'mm'>;
export type MmHg = In<'mmHg'>;
export type KPa = In<'kPa'>;
export type CmH2O = In<'cmH2O'>;
/** A fraction, 0 to 1. */
export type Fraction = In<'fraction'>;
/** A percentage. */
export type Percent = In<'%'>;
/** Oxygen content of blood. */
export type MlPerDl = In<'mL/dL'>;
export type GPerDl = In<'g/dL'>;
export type LPerMin = In<'L/min'>;
