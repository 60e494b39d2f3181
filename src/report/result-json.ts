import { rounded } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import type { PatientResult } from '../result/patient-result.js';
import { patientResultSchema, resultSchema, type SchemaNode } from './result-schema.js';
import { compareNames } from './words.js';

/** Digits kept in result.json, by the unit at the end of the key; the first match applies. */
const DIGITS: readonly (readonly [RegExp, number])[] = [
  [/(^|_)(fraction|share|share_range)$|^interval$/, 4],
  [/_percent$/, 2],
  [/_deg$/, 1],
  [/_ml_dl$/, 3],
  [/_l_min$/, 3],
  [/_ml$/, 4],
  [/_(mm|mm2|cm2|mmhg|cmh2o|l)$|^(mmhg|cmh2o|tortuosity)$/, 3],
  // The members of calibre_mm.
  [/^(min|mean|max)$/, 3],
];

const OTHER_DIGITS = 6;

/**
 * Writes result.json: keys in the order of the schema, named maps by name, numbers rounded by their unit, two
 * spaces, one newline at the end. Same result, same bytes. Throws RangeError on a number that is not finite.
 */
export const resultJson = (result: Result): string => written(result, resultSchema());

/** The same for the result of a patient. */
export const patientResultJson = (result: PatientResult): string => written(result, patientResultSchema());

const written = (value: unknown, schema: SchemaNode): string =>
  `${JSON.stringify(ordered(value, schema, '', schema.$defs ?? {}), null, 2)}\n`;

function ordered(
  value: unknown,
  schema: SchemaNode | undefined,
  key: string,
  defs: Readonly<Record<string, SchemaNode>>,
): unknown {
  if (typeof value === 'number') return Number.isInteger(value) ? value : rounded(value, digitsOf(key));
  if (Array.isArray(value)) {
    const items = resolve(schema, defs)?.items;
    return value.map((item) => ordered(item, items, key, defs));
  }
  if (typeof value !== 'object' || value === null) return value;
  const node = resolve(schema, defs);
  const entries = new Map(Object.entries(value).filter(([, entry]) => entry !== undefined));
  const known = Object.keys(node?.properties ?? {}).filter((name) => entries.has(name));
  const others = [...entries.keys()].filter((name) => !known.includes(name)).sort(compareNames);
  // Object.fromEntries defines own keys, so that a vessel named like a prototype property stays data.
  return Object.fromEntries(
    [...known, ...others].map((name) => {
      const rest = typeof node?.additionalProperties === 'object' ? node.additionalProperties : undefined;
      return [name, ordered(entries.get(name), node?.properties?.[name] ?? rest, name, defs)];
    }),
  );
}

function resolve(
  schema: SchemaNode | undefined,
  defs: Readonly<Record<string, SchemaNode>>,
): SchemaNode | undefined {
  if (!schema?.$ref) return schema;
  return defs[schema.$ref.replace('#/$defs/', '')];
}

const digitsOf = (key: string): number => DIGITS.find(([pattern]) => pattern.test(key))?.[1] ?? OTHER_DIGITS;
