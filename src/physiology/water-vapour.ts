import { convert } from '../foundation/units.js';
import type { MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';

/**
 * Saturated water vapour pressure in the alveoli.
 *
 * Formula   at 37 °C: 47 mmHg by convention; else P(kPa) = 0.61121·exp((18.678 − T/234.5)·T/(257.14 + T))
 * Source    convention; Buck 1996 [buck-1996, from memory], within 0.01 % of the handbook table from 35 to 41 °C
 * Units     °C; result mmHg
 * Valid     0 to 60 °C
 * Checked   tests/check-values/water-vapour.csv
 * @example  waterVapourPressure(39)   // 52.49
 */
export function waterVapourPressure(temperatureC: number): MmHg {
  // Within a hundredth of a degree, so that 98.6 degF counts as 37 degC.
  if (Math.abs(temperatureC - CONSTANTS.bodyTemperatureC.value) < 0.01)
    return CONSTANTS.waterVapour37MmHg.value;
  return buckVapourPressure(temperatureC);
}

/** By Buck 1996, without the 37 °C convention, mmHg. */
export function buckVapourPressure(temperatureC: number): MmHg {
  return convert(
    0.61121 * Math.exp(((18.678 - temperatureC / 234.5) * temperatureC) / (257.14 + temperatureC)),
    'pressure',
    'kPa',
    'mmHg',
  );
}
