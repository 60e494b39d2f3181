import type { Fraction, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';

/**
 * Right-to-left shunt as a fraction of cardiac output from three oxygen contents.
 *
 * Formula   Qs/Qt = (Cc' − Ca) / (Cc' − Cv)
 * Source    Berggren 1942 [berggren-1942, from memory]
 * Units     contents in the same unit; the result is a fraction and may be outside 0..1 if the contents contradict each other, and the
 *           caller must then reject it
 * Checked   tests/check-values/shunt.csv
 * @example  shuntFromContents(22.186, 21.340, 15.205)   // 0.1212
 */
export function shuntFromContents(endCapillary: MlPerDl, arterial: MlPerDl, venous: MlPerDl): Fraction {
  return (endCapillary - arterial) / (endCapillary - venous);
}

/**
 * Right-to-left shunt from dissolved oxygen alone, on 100 % oxygen.
 *
 * Formula   Qs/Qt = k·(PAO2 − PaO2) / (k·(PAO2 − PaO2) + D),   k = 0.0031 mL/dL/mmHg
 * Source    Chiang, Thorax 1968;23:563 [chiang-1968, from memory]
 * Units     mmHg, mL/dL; result a fraction
 * Valid     only while arterial blood is fully saturated (PaO2 150 mmHg or more): below, it levels off near 28 % whatever the true shunt,
 *           so `computeShunt` rejects it there
 * Checked   tests/check-values/shunt.csv
 * @example  shuntFromDissolved(667, 587, 5)   // 0.0473
 */
export function shuntFromDissolved(
  alveolarPo2MmHg: MmHg,
  arterialPo2MmHg: MmHg,
  avDifferenceMlDl: MlPerDl,
): Fraction {
  const lost = CONSTANTS.oxygenDissolvesMlPerDlMmHg.value * (alveolarPo2MmHg - arterialPo2MmHg);
  return lost / (lost + avDifferenceMlDl);
}
