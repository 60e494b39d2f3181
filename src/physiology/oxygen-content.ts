import type { Fraction, GPerDl, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';

/**
 * Oxygen content of blood: bound to haemoglobin plus dissolved.
 *
 * Formula   C = 1.34·Hb·S + 0.0031·P
 * Source    1.34 mL/g as in the PAVM literature [santhirapala-2014] (measured 1.365, Br J Anaesth 1981;53:1325 [dominguez-1981];
 *           1.39 in theory); 0.0031 mL/dL/mmHg [siggaard-andersen-1984]
 * Units     g/dL, 0..1, mmHg; result mL of oxygen per dL of blood
 * Checked   tests/check-values/content.csv
 * @example  oxygenContent(15, 0.975, 95)   // 19.892
 */
export function oxygenContent(haemoglobinGDl: GPerDl, so2Fraction: Fraction, po2MmHg: MmHg): MlPerDl {
  return (
    CONSTANTS.haemoglobinBindsMlPerG.value * haemoglobinGDl * so2Fraction +
    CONSTANTS.oxygenDissolvesMlPerDlMmHg.value * po2MmHg
  );
}
