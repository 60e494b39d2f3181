/**
 * The planning toolkit as a library: what the command line does, without a terminal and without writing a file. The version number covers
 * everything exported here, as stated in CHANGELOG.md, but not deeper paths of the package.
 *
 * @example
 * import { planCase } from 'pavm-planner';
 * const { shunt, devices, findings } = await planCase('cases/plover');
 */
import { type MeasureCaseOptions, measureCase } from './cli/measure/measure-case.js';
import { planResult } from './cli/plan/plan-files.js';
import type { Result } from './result/result.generated.js';

export type { Case, Shelf } from './case/case.js';
export { parseCase } from './case/parse-case.js';
export { readCase } from './case/read-case.js';
export { parseShelf, readShelf } from './case/read-shelf.js';
export { type MeasureCaseOptions, type MeasuredCase, measureCase } from './cli/measure/measure-case.js';
export type { FeederToClose, FitContext } from './devices/feeder.js';
export { fitDevice } from './devices/fit-device.js';
export { InputFailure, OutputFailure } from './foundation/failure.js';
export type { Finding } from './foundation/finding.js';
export type { LesionMeasure, VesselMeasure } from './geometry/measure.js';
export { type ClosureInput, closureTable } from './physiology/closure-table.js';
export { computeShunt, shuntInputOfCase } from './physiology/compute-shunt.js';
export type { ShuntInput } from './physiology/shunt-input.js';
export { checkPatientResult, checkResult } from './report/result-check.js';
export type { PatientResult } from './result/patient-result.js';
export type { Result } from './result/result.generated.js';
export { loadRules } from './rules/load-rules.js';
export type { Rules } from './rules/rule.js';

/** Options of `planCase`. */
export interface PlanCaseOptions extends MeasureCaseOptions {
  /** ISO date that lead times count from; else the shelf's, else that of the scan. */
  today?: string;
}

/**
 * Reads a case file or folder, measures its surfaces and computes the whole plan in memory: the value of result.json, units in its keys.
 * Nothing is written. Throws InputFailure: 2 for the case file, 3 for an input that cannot be used.
 */
export async function planCase(path: string, options: PlanCaseOptions = {}): Promise<Result> {
  const { today, ...measuring } = options;
  return (await planResult(await measureCase(path, measuring), today)).result;
}
