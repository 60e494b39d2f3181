import { readFileSync } from 'node:fs';

/** The part of JSON Schema that the result's schema uses. */
export interface SchemaNode {
  $ref?: string;
  type?: string | string[];
  $defs?: Record<string, SchemaNode>;
  properties?: Record<string, SchemaNode>;
  additionalProperties?: boolean | SchemaNode;
  items?: SchemaNode;
}

export const RESULT_SCHEMA_URL = new URL('../result/result.schema.json', import.meta.url);

export const PATIENT_RESULT_SCHEMA_URL = new URL('../result/patient-result.schema.json', import.meta.url);

/** Definitions that the result of a patient shares with that of a case. */
const OF_RESULT = [
  'title',
  'purpose',
  'tool',
  'today',
  'inputs',
  'baseline',
  'shunt',
  'shunt_after',
  'shunt_change',
  'pulmonary_pressure',
  'closure',
  'closure_order',
  'devices',
  'checklist',
  'findings',
  'cautions',
] as const;

let schema: SchemaNode | undefined;
let ofPatient: SchemaNode | undefined;

/** The schema of `Result`, read once from the file next to the generated types. */
export function resultSchema(): SchemaNode {
  schema ??= JSON.parse(readFileSync(RESULT_SCHEMA_URL, 'utf8')) as SchemaNode;
  return schema;
}

/** The schema of `PatientResult`: its own file plus the definitions shared with a case's result. */
export function patientResultSchema(): SchemaNode {
  if (ofPatient) return ofPatient;
  const own = JSON.parse(readFileSync(PATIENT_RESULT_SCHEMA_URL, 'utf8')) as SchemaNode;
  const { properties = {}, $defs } = resultSchema();
  const shared = Object.fromEntries(OF_RESULT.map((key) => [key, properties[key]]));
  ofPatient = { ...own, properties: { ...own.properties, ...shared }, $defs: { ...$defs, ...own.$defs } };
  return ofPatient;
}
