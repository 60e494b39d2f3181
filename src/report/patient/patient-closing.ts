import type { PatientResult } from '../../result/patient-result.js';
import type { Closing } from '../closing.js';

/** The result of a patient as the closing blocks of a document take it. */
export const closingOf = (result: PatientResult): Closing => ({
  case: result.patient,
  purpose: result.purpose,
  scan_date: result.scan_date,
  today: result.today,
  tool: result.tool,
  inputs: result.inputs,
  cautions: result.cautions,
});
