import type { ErrorObject, ValidateFunction } from 'ajv/dist/2020.js';
import { childPath, type LocatedYaml, type YamlValue } from '../foundation/located-yaml.js';
import { nearestHint, nearestKey } from '../foundation/nearest-key.js';
import { parseNumber } from '../foundation/quantity.js';
import { quoted } from '../foundation/quoted-text.js';
import { schemaValidator } from '../foundation/schema-validator.js';
import {
  type FileKind,
  type FileSchema,
  fileSchema,
  resolveSchema,
  VALIDATOR_OPTIONS,
} from './file-schema.js';
import type { Problems } from './problems.js';

const compiled = new Map<string, ValidateFunction>();

async function validator(name: FileKind): Promise<ValidateFunction> {
  let validate = compiled.get(name);
  if (validate === undefined) {
    const url = new URL(`./${name}.schema.json`, import.meta.url);
    validate = await schemaValidator(url, () => fileSchema(name), VALIDATOR_OPTIONS);
    compiled.set(name, validate);
  }
  return validate;
}

/**
 * Checks a parsed file against its schema and notes every difference at its place, in plain words. Quantities, dates and paths are left to
 * `readAnnotations`, whose messages say more than a type error can.
 */
export async function checkStructure(yaml: LocatedYaml, name: FileKind, problems: Problems): Promise<void> {
  const validate = await validator(name);
  if (validate(yaml.value)) return;
  const errors = validate.errors ?? [];
  const misspelt = new Set<string>();
  const siblings = new Siblings();
  for (const error of errors.filter(({ keyword }) => keyword === 'additionalProperties')) {
    noteUnknownKey(error, name, yaml, problems, misspelt, siblings);
  }
  for (const error of errors) noteDifference(error, yaml, problems, misspelt);
}

/** The keys next to a key. Cached for each mapping: a file of 45 000 unknown keys took ten minutes when they were listed each time. */
class Siblings {
  private readonly known = new Map<object, { before: Map<string, string>; present: Set<string> }>();

  of(mapping: object): { before: Map<string, string>; present: Set<string> } {
    let entry = this.known.get(mapping);
    if (entry === undefined) {
      const keys = Object.keys(mapping);
      entry = { before: new Map(keys.slice(1).map((key, i) => [key, keys[i]])), present: new Set(keys) };
      this.known.set(mapping, entry);
    }
    return entry;
  }
}

/** `/gases/0/po2` -> `gases[0].po2`. */
function pathOf(pointer: string, root: YamlValue): string {
  let path = '';
  let value: YamlValue | undefined = root;
  for (const token of pointer.split('/').slice(1)) {
    const key = token.replace(/~1/g, '/').replace(/~0/g, '~');
    const inList: boolean = Array.isArray(value);
    path = childPath(path, inList ? Number(key) : key);
    value = (value as Record<string, YamlValue> | undefined)?.[key];
  }
  return path;
}

function noteUnknownKey(
  error: ErrorObject,
  name: FileKind,
  yaml: LocatedYaml,
  problems: Problems,
  misspelt: Set<string>,
  siblings: Siblings,
): void {
  const parent = pathOf(error.instancePath, yaml.value);
  const key = String(error.params.additionalProperty);
  const path = childPath(parent, key);
  const schema = resolveSchema(error.parentSchema as FileSchema, fileSchema(name));
  const known = Object.keys(schema.properties ?? {});
  const { before: keysBefore, present } = siblings.of(error.data as object);
  // `{ fev1: 2,9 L }` is read as `fev1: 2` and a key `9 L`: a single mistake, shown at the number.
  const before = keysBefore.get(key);
  if (
    /^\d/.test(key) &&
    before !== undefined &&
    /^-?\d+$/.test(yaml.source(childPath(parent, before)) ?? '')
  ) {
    const whole = `${yaml.source(childPath(parent, before))},${key}`;
    problems.add(
      childPath(parent, before),
      `${quoted(whole)} has a decimal comma. Write ${quoted(whole.replace(',', '.'))}.`,
    );
    return;
  }
  const nearest = () =>
    nearestKey(
      key,
      known.filter((word) => !present.has(word)),
    );
  // A missing required key is not reported again if it is only misspelt; the hint for other keys is not computed until it is shown.
  if (schema.required?.some((word) => !present.has(word))) {
    const near = nearest();
    if (near !== undefined) misspelt.add(childPath(parent, near));
  }
  const text = () => {
    const near = nearest();
    const hint = near === undefined ? nearestHint(key, known) : `Did you mean "${near}"?`;
    return `the key ${quoted(key)} is not known here. ${hint}`;
  };
  problems.add(path, text, yaml.keyPosition(path), 'unknown key');
}

function noteDifference(
  error: ErrorObject,
  yaml: LocatedYaml,
  problems: Problems,
  misspelt: Set<string>,
): void {
  const path = pathOf(error.instancePath, yaml.value);
  const schema = error.parentSchema as FileSchema;
  if (schema.quantity || schema.date || schema.moment || schema.path) return;
  const value = error.data as YamlValue;
  switch (error.keyword) {
    case 'additionalProperties':
    case 'if': // a fault in its branch is an error of its own
      return;
    case 'required': {
      const missing = childPath(path, String(error.params.missingProperty));
      if (misspelt.has(missing)) return;
      const description = schema.properties?.[String(error.params.missingProperty)]?.description;
      problems.add(missing, `is missing.${description ? ` ${description}` : ''}`, yaml.position(path));
      return;
    }
    case 'uniqueItems': {
      const item = childPath(path, Math.max(Number(error.params.i), Number(error.params.j)));
      problems.add(item, `${quoted(yaml.source(item) ?? '')} appears twice in this list. Keep one of them.`);
      return;
    }
    default:
      problems.add(
        path,
        () => differenceText(error, schema, value, yaml.source(path)),
        yaml.position(path),
        error.schemaPath,
      );
  }
}

function differenceText(
  error: ErrorObject,
  schema: FileSchema,
  value: YamlValue,
  source: string | undefined,
): string {
  if (value === null) return 'is empty. Give a value or delete the line.';
  const shown = source === undefined ? (Array.isArray(value) ? 'a list' : 'a mapping') : quoted(source);
  switch (error.keyword) {
    case 'enum':
      return enumText(shown, source, schema.enum ?? []);
    case 'type':
      if (schema.enum) return enumText(shown, source, schema.enum);
      return typeText(shown, value, source, schema);
    case 'pattern':
      return `${shown} is not allowed here. ${schema.hint ?? ''}`.trim();
    case 'minLength':
      return 'is empty. Give a value or delete the line.';
    case 'maxLength':
      return `${shown} is longer than ${error.params.limit} characters. Shorten it.`;
    case 'minItems':
    case 'maxItems':
      return itemsText(value as YamlValue[], schema, Number(error.params.limit), error.keyword);
    case 'minimum':
    case 'exclusiveMinimum':
    case 'maximum':
      return `${shown} is out of range: it must be ${error.params.comparison} ${error.params.limit}.`;
    default:
      return `${shown} is not allowed here: ${error.message ?? error.keyword}.`;
  }
}

function enumText(shown: string, source: string | undefined, accepted: readonly unknown[]): string {
  const words = accepted.map(String).filter((word) => word !== 'true' && word !== 'false');
  const near = source === undefined ? undefined : nearestKey(source, words);
  return `${shown} is not known here.${near === undefined ? '' : ` Did you mean "${near}"?`} Accepted: ${words.join(', ')}.`;
}

function typeText(shown: string, value: YamlValue, source: string | undefined, schema: FileSchema): string {
  const types = ([] as string[]).concat(schema.type ?? []);
  // If several types are allowed, messages ask for the first.
  const [wanted] = types;
  if (wanted === 'array') return `${shown} is given where a list is needed. Write it in brackets: [ ... ].`;
  if (wanted === 'object') return `${shown} is given where keys with values are needed.`;
  if (wanted === 'number' || wanted === 'integer') {
    if (source === undefined) return `${shown} is given where a number is needed.`;
    const number = parseNumber(source);
    if (typeof number === 'string') return number;
    if (typeof value === 'string') return `${shown} is in quotes. Write the number without quotes.`;
    return `${shown} must be a whole number.`;
  }
  if (typeof value === 'number' || typeof value === 'boolean')
    return `${shown} is read as a number or yes/no. Put it in quotes: ${shown}.`;
  return `${shown} is given where a text is needed.`;
}

function itemsText(value: YamlValue[], schema: FileSchema, limit: number, keyword: string): string {
  if (schema.minItems === schema.maxItems && schema.minItems !== undefined) {
    return `needs ${schema.minItems} numbers, found ${value.length}. Write for example ${JSON.stringify(schema.examples?.[0])}, with decimal points.`;
  }
  return keyword === 'minItems'
    ? 'is empty. Give at least one entry.'
    : `has ${value.length} entries; at most ${limit} are read.`;
}
