import type { PatientResult } from '../../result/patient-result.js';
import type { Closing } from '../closing.js';

/** The parts of a patient's result that the closing blocks need. */
export const closingOf = (result: PatientResult): Closing => ({
  case: result.patient,
  purpose: result.purpose,
  scan_date: result.scan_date,
  today: result.today,
  tool: result.tool,
  inputs: result.inputs,
  cautions: result.cautions,
});
