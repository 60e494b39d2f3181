import { power } from '../foundation/power.js';
import { convert } from '../foundation/units.js';
import type { MmHg } from '../foundation/unit-types.js';

/**
 * Barometric pressure at an altitude, in the standard atmosphere. A fallback: the pressure read at the analyser is better,
 * since weather alone moves it by about 20 mmHg.
 *
 * Formula   P = 101.325 kPa·(1 − 0.0065·H/288.15)^5.25588
 * Source    ISO 2533:1975, troposphere [iso-2533; constants from a secondary page, formula from memory]
 * Units     m (geopotential); result mmHg
 * Valid     -2000 to 11 000 m; throws RangeError outside
 * Checked   tests/check-values/atmosphere.csv
 * @example  standardAtmosphere(1500)   // 634.2
 */
export function standardAtmosphere(altitudeM: number): MmHg {
  if (!(altitudeM >= -2000 && altitudeM <= 11000)) {
    throw new RangeError(`altitude is ${altitudeM} m; the formula holds from -2000 to 11000 m`);
  }
  return convert(101.325 * power(1 - (0.0065 * altitudeM) / 288.15, 5.25588), 'pressure', 'kPa', 'mmHg');
}
