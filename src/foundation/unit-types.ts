/**
 * A number in one unit. A plain number is taken for any unit, so that arithmetic stays arithmetic; a number in one unit is never
 * taken for one in another: kPa where mmHg are asked for, or a fraction for a length, does not compile. Nothing of it is left at
 * run time. What a formula gives is a plain number again: the name of the place it goes to says its unit.
 */
export type In<U extends string> = number & { readonly unit?: U };

export type Mm = In<'mm'>;
export type MmHg = In<'mmHg'>;
export type KPa = In<'kPa'>;
export type CmH2O = In<'cmH2O'>;
/** A part of one, 0 to 1. */
export type Fraction = In<'fraction'>;
/** A part of a hundred. */
export type Percent = In<'%'>;
/** Oxygen content of blood. */
export type MlPerDl = In<'mL/dL'>;
export type GPerDl = In<'g/dL'>;
export type LPerMin = In<'L/min'>;
