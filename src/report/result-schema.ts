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

let schema: SchemaNode | undefined;

/** The schema of `Result`, read once from the file beside the generated types. */
export function resultSchema(): SchemaNode {
  schema ??= JSON.parse(readFileSync(RESULT_SCHEMA_URL, 'utf8')) as SchemaNode;
  return schema;
}
