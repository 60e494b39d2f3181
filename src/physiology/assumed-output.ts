import type { Patient } from '../case/case.js';
import { fixed } from '../foundation/number-text.js';
import type { LPerMin } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import { bodySurfaceM2 } from './body-surface.js';

/** An assumed cardiac output, with its spread and description. */
export interface AssumedOutput {
  lMin: number;
  intervalLMin: [LPerMin, LPerMin];
  words: string;
}

const c = CONSTANTS;

/**
 * The cardiac output assumed if none was measured: for a child by body surface, for an adult a normal value.
 *
 * Formula   child: 3.4 L/min/m2 · surface, plus and minus 30 %; adult: 5 (4 to 6) L/min
 * Source    child: Br Heart J 1963;25:425 [jegier-1963], 77 subjects of 0.2 to 2.0 m2, mean index 3.38; the spread is common
 *           practice, no source. Adult: table of normal values [ers-normal-haemodynamics]
 * Absent    under one year of age, and in a child without height or weight: `absentBecause`
 * Assumes   an adult if the age is not given; the description says so
 * Checked   tests/check-values/body-size.csv, tests/physiology/body-size.test.ts
 */
export function assumedOutput(
  patient: Pick<Patient, 'ageYears' | 'heightCm' | 'weightKg'>,
): { output: AssumedOutput } | { absentBecause: string } {
  const { ageYears } = patient;
  if (ageYears === undefined || ageYears >= c.adultFromYears.value) {
    const words =
      ageYears === undefined ? 'a normal value of adults, the age is not given' : 'a normal value';
    const lMin = c.normalCardiacOutputLMin.value;
    return {
      output: {
        lMin,
        intervalLMin: [c.normalCardiacOutputLowLMin.value, c.normalCardiacOutputHighLMin.value],
        words: `cardiac output ${lMin} L/min, ${words} (${SOURCES['ers-normal-haemodynamics'].cite})`,
      },
    };
  }
  if (ageYears < c.predictedFromYears.value)
    return { absentBecause: 'no cardiac output is assumed under one year of age' };
  const surface = bodySurfaceM2(patient);
  if (surface === undefined)
    return {
      absentBecause: "a child's output is assumed by body size, and height and weight are not both given",
    };
  const index = c.childCardiacIndexLMinM2.value;
  const lMin = index * surface;
  const spread = c.childCardiacIndexSpread.value;
  return {
    output: {
      lMin,
      intervalLMin: [lMin * (1 - spread), lMin * (1 + spread)],
      words: `cardiac output ${fixed(lMin, 2)} L/min, ${index} L/min per m2 of ${fixed(surface, 2)} m2 (${SOURCES['jegier-1963'].cite})`,
    },
  };
}
