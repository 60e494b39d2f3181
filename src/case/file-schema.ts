import { readFileSync } from 'node:fs';

/** The part of JSON Schema 2020-12 that the file schemas use, with their annotations. */
export interface FileSchema {
  $ref?: string;
  $defs?: Record<string, FileSchema>;
  type?: string | readonly string[];
  properties?: Record<string, FileSchema>;
  required?: readonly string[];
  /** The values of keys that are not listed; false: no such keys are accepted. */
  additionalProperties?: FileSchema | boolean;
  items?: FileSchema;
  enum?: readonly unknown[];
  const?: unknown;
  pattern?: string;
  minItems?: number;
  maxItems?: number;
  examples?: readonly unknown[];
  description?: string;
  default?: unknown;
  /** Annotation: the text is a quantity; `unit` is what the reader keeps, `bare` the unit of a bare number. */
  quantity?: { kind: string; unit: string; bare?: string };
  /** Annotation: the text is an ISO date. */
  date?: boolean;
  /** Annotation: the text is an ISO date, or date and time of day. */
  moment?: boolean;
  /** Annotation: the text is the path of a file or folder. */
  path?: boolean;
  /** Annotation: what to write if `pattern` does not match. */
  hint?: string;
}

/** Options for the file schemas' validator: their annotation keywords, and that errors carry schema and value. */
export const VALIDATOR_OPTIONS = {
  verbose: true,
  allowUnionTypes: true,
  vocabulary: ['quantity', 'date', 'moment', 'path', 'hint'],
} as const;

/** The files of a user that have a schema. */
export type FileKind = 'case' | 'patient' | 'shelf';

/** The blocks that a patient file shares with a case file. */
const OF_CASE = [
  'id',
  'title',
  'purpose',
  'patient',
  'blood',
  'gases',
  'circulation',
  'shelf',
  'planned',
  'bleeding',
  'team',
  'at_hand',
  'expected',
] as const;

const loaded = new Map<FileKind, FileSchema>();

/** The schema of case, patient or shelf files. */
export function fileSchema(name: FileKind): FileSchema {
  const known = loaded.get(name);
  if (known !== undefined) return known;
  const shipped = JSON.parse(
    readFileSync(new URL(`./${name}.schema.json`, import.meta.url), 'utf8'),
  ) as FileSchema;
  const schema = name === 'patient' ? withCaseKeys(shipped, fileSchema('case')) : shipped;
  loaded.set(name, schema);
  return schema;
}

function withCaseKeys(patient: FileSchema, { properties = {}, $defs }: FileSchema): FileSchema {
  const shared = OF_CASE.map((key) => [key, properties[key]]);
  return { ...patient, $defs, properties: { ...patient.properties, ...Object.fromEntries(shared) } };
}

/** Follows `$ref` into `$defs`; keys next to the reference (its description) take precedence. */
export function resolveSchema(schema: FileSchema, root: FileSchema): FileSchema {
  if (schema.$ref === undefined) return schema;
  const target = root.$defs?.[schema.$ref.replace('#/$defs/', '')];
  if (target === undefined) throw new Error(`the schema has no ${schema.$ref}`);
  return { ...resolveSchema(target, root), ...schema, $ref: undefined };
}
