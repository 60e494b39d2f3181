import { CONSTANTS } from '../reference/constants.js';
import { power } from '../foundation/power.js';

/** Height in cm, weight in kg; undefined if not given. */
export interface BodySize {
  heightCm?: number;
  weightKg?: number;
}

const c = CONSTANTS;

/**
 * Body surface area, m2; undefined if height or weight is missing.
 *
 * Formula   Du Bois: 0.007184·H^0.725·W^0.425; below 15 kg Haycock: 0.024265·H^0.3964·W^0.5378
 * Source    Arch Intern Med 1916;17:863 [du-bois-1916] and J Pediatr 1978;93:62 [haycock-1978]; the change at 15 kg is common
 *           practice, no source
 * Units     H cm, W kg
 * Checked   tests/check-values/body-size.csv
 * @example  bodySurfaceM2({ heightCm: 170, weightKg: 70 })   // 1.810
 * @example  bodySurfaceM2({ heightCm: 75, weightKg: 9 })   // 0.438
 */
export function bodySurfaceM2({ heightCm, weightKg }: BodySize): number | undefined {
  if (heightCm === undefined || weightKg === undefined) return undefined;
  if (weightKg < c.haycockBelowKg.value) {
    return (
      c.haycockFactor.value *
      power(heightCm, c.haycockHeightPower.value) *
      power(weightKg, c.haycockWeightPower.value)
    );
  }
  return (
    c.duBoisFactor.value *
    power(heightCm, c.duBoisHeightPower.value) *
    power(weightKg, c.duBoisWeightPower.value)
  );
}

/**
 * Absolute filtration rate, mL/min, from the one per 1.73 m2.
 *
 * Formula   absolute = indexed · surface / 1.73
 * Source    KDIGO 2012 guideline on chronic kidney disease [kdigo-2012]
 * Units     indexed mL/min/1.73m2, surface m2
 * @example  absoluteFiltration(50, 1.370)   // 39.6
 */
export function absoluteFiltration(indexed: number, surfaceM2: number): number {
  return (indexed * surfaceM2) / c.filtrationReferenceM2.value;
}
