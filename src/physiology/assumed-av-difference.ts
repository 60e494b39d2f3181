import type { LPerMin } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import { assumedOutput } from './assumed-output.js';
import { predictedUptake } from './predicted-uptake.js';

/** An assumed arterio-venous difference; `impliedBy` holds the child's uptake and output from which it was computed. */
export interface AssumedAvDifference {
  mlDl: number;
  impliedBy?: { uptakeMlMin: number; outputLMin: LPerMin };
}

const c = CONSTANTS;

/**
 * The arterio-venous difference assumed if there is neither a mixed-venous sample nor a measurement by Fick.
 *
 * Formula   child: predicted uptake / (10 · output), measured or else assumed; adult: the conventional 5 mL/dL
 * Source    child: [bergstra-1995] over [jegier-1963]; adult: Thorax 1968;23:563 [chiang-1968]
 * Units     uptake mL/min, output L/min, difference mL/dL
 * Absent    `absentBecause`, never the adult value, if a child's uptake or output cannot be predicted
 * Checked   tests/check-values/body-size.csv
 */
export function assumedAvDifference(
  patient: Parameters<typeof predictedUptake>[0],
  measuredOutputLMin?: LPerMin,
): { difference: AssumedAvDifference } | { absentBecause: string } {
  const { ageYears } = patient;
  if (ageYears === undefined || ageYears >= c.adultFromYears.value)
    return { difference: { mlDl: c.assumedAvDifferenceMlDl.value } };
  const output =
    measuredOutputLMin === undefined ? assumedOutput(patient) : { output: { lMin: measuredOutputLMin } };
  if ('absentBecause' in output) return output;
  const uptake = predictedUptake(patient);
  if ('absentBecause' in uptake) return uptake;
  const uptakeMlMin = uptake.uptake.mlMin;
  const outputLMin = output.output.lMin;
  return { difference: { mlDl: uptakeMlMin / (10 * outputLMin), impliedBy: { uptakeMlMin, outputLMin } } };
}
