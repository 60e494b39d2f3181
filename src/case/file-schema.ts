import { readFileSync } from 'node:fs';

/** The part of JSON Schema 2020-12 that the file schemas use, with their annotations. */
export interface FileSchema {
  $ref?: string;
  $defs?: Record<string, FileSchema>;
  type?: string | readonly string[];
  properties?: Record<string, FileSchema>;
  required?: readonly string[];
  /** What keys that are not listed hold; false: none are taken. */
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
  /** Annotation: what to write when `pattern` does not match. */
  hint?: string;
}

/** What the file schemas' validator must be told: their annotation keywords, and that errors carry schema and value. */
export const VALIDATOR_OPTIONS = {
  verbose: true,
  allowUnionTypes: true,
  vocabulary: ['quantity', 'date', 'moment', 'path', 'hint'],
} as const;

const loaded = new Map<string, FileSchema>();

/** The shipped schema of case or shelf files. */
export function fileSchema(name: 'case' | 'shelf'): FileSchema {
  let schema = loaded.get(name);
  if (schema === undefined) {
    schema = JSON.parse(
      readFileSync(new URL(`./${name}.schema.json`, import.meta.url), 'utf8'),
    ) as FileSchema;
    loaded.set(name, schema);
  }
  return schema;
}

/** Follows `$ref` into `$defs`; what stands beside the reference (its description) wins. */
export function resolveSchema(schema: FileSchema, root: FileSchema): FileSchema {
  if (schema.$ref === undefined) return schema;
  const target = root.$defs?.[schema.$ref.replace('#/$defs/', '')];
  if (target === undefined) throw new Error(`the schema has no ${schema.$ref}`);
  return { ...resolveSchema(target, root), ...schema, $ref: undefined };
}
