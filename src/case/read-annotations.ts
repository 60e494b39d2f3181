import { childPath, type LocatedYaml, type YamlValue } from '../foundation/located-yaml.js';
import { parseNumber, parseQuantity, type Quantity } from '../foundation/quantity.js';
import { hasInvisible, quoted } from '../foundation/quoted-text.js';
import { KINDS, type QuantityKind, type UnitOf } from '../foundation/units.js';
import { dateProblem, momentProblem } from './calendar-date.js';
import { type FileKind, type FileSchema, fileSchema, resolveSchema } from './file-schema.js';
import { pathProblem } from './path-text.js';
import type { Problems } from './problems.js';

/**
 * Reads every quantity of a file by the schema's annotations, and checks its dates, paths, numbers and texts.
 * Returns the quantities by path, in the unit that the schema names for each.
 */
export function readAnnotations(
  yaml: LocatedYaml,
  name: FileKind,
  problems: Problems,
): ReadonlyMap<string, Quantity> {
  const root = fileSchema(name);
  const quantities = new Map<string, Quantity>();
  const visit = (value: YamlValue, reference: FileSchema, path: string): void => {
    const schema = resolveSchema(reference, root);
    if (Array.isArray(value)) {
      if (schema.items)
        value.forEach((item, i) => void visit(item, schema.items as FileSchema, childPath(path, i)));
      else if (isAnnotated(schema)) problems.add(path, 'a list is given where one text is needed.');
      return;
    }
    if (value !== null && typeof value === 'object') {
      if (isAnnotated(schema)) problems.add(path, 'a mapping is given where one text is needed.');
      for (const [key, below] of Object.entries(value)) {
        const schemaBelow =
          schema.properties && Object.hasOwn(schema.properties, key)
            ? schema.properties[key]
            : schema.additionalProperties;
        if (typeof schemaBelow === 'object') visit(below, schemaBelow, childPath(path, key));
      }
      return;
    }
    scalar(value, schema, path, yaml.source(path) ?? String(value), quantities, problems);
  };
  visit(yaml.value, root, '');
  return quantities;
}

/** A text whose annotation says more than its type. */
const isAnnotated = ({ quantity, date, moment, path }: FileSchema): boolean =>
  Boolean(quantity || date || moment || path);

function scalar(
  value: string | number | boolean | null,
  schema: FileSchema,
  path: string,
  source: string,
  quantities: Map<string, Quantity>,
  problems: Problems,
): void {
  if (schema.quantity) {
    const result =
      value === null
        ? ({ ok: false, problem: 'is empty. Give a value with its unit or delete the line.' } as const)
        : readQuantity(source, schema.quantity, schema.examples);
    if (result.ok) quantities.set(path, result);
    else problems.add(path, result.problem);
    return;
  }
  if (value === null) {
    if (isAnnotated(schema)) problems.add(path, 'is empty. Give a value or delete the line.');
    return;
  }
  if (schema.date) {
    const problem = dateProblem(source);
    if (problem !== undefined) problems.add(path, problem);
  } else if (schema.moment) {
    const problem = momentProblem(source);
    if (problem !== undefined) problems.add(path, problem);
  } else if (schema.path) {
    const problem =
      typeof value === 'string'
        ? pathProblem(value)
        : `${quoted(source)} is read as a number. Put it in quotes.`;
    if (problem !== undefined) problems.add(path, problem);
  } else if (typeof value === 'number') {
    const number = parseNumber(source);
    if (typeof number === 'string') problems.add(path, number);
  } else if (typeof value === 'string' && hasInvisible(value)) {
    problems.add(
      path,
      `${quoted(value)} contains a line break, control or invisible character. Write one line of plain text.`,
    );
  }
}

function readQuantity(
  text: string,
  annotation: { kind: string; unit: string; bare?: string },
  examples?: readonly unknown[],
) {
  if (!Object.hasOwn(KINDS, annotation.kind))
    throw new Error(`the schema names the unknown quantity ${annotation.kind}`);
  const kind = annotation.kind as QuantityKind;
  const shown = examples?.every((example) => typeof example === 'string')
    ? (examples as string[])
    : undefined;
  return parseQuantity(text, kind, annotation.unit as UnitOf<typeof kind>, {
    examples: shown,
    bareUnit: annotation.bare,
  });
}
