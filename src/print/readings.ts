import { Problems } from '../case/problems.js';
import { InputFailure } from '../foundation/failure.js';
import {
  decodeYaml,
  type LocatedYaml,
  parseLocatedYaml,
  type YamlValue,
} from '../foundation/located-yaml.js';
import { nearestHint } from '../foundation/nearest-key.js';
import { parseQuantity } from '../foundation/quantity.js';
import { formatWords, refuseForeign } from '../foundation/own-format.js';
import { hasInvisible, quoted } from '../foundation/quoted-text.js';
import type { Turn } from './handedness.js';

const FORMAT = 'pavm-readings/1';

/** One caliper reading. */
export interface Reading {
  name: string;
  valueMm: number;
  /** As written. */
  asWritten: string;
  reader?: string;
  /** Counted from 1. */
  round?: number;
}

export interface Readings {
  instrument?: string;
  /** Whether the file names the model, which is then this one. */
  namesModel: boolean;
  /** The direction of the landmarks, as read. */
  handedness?: Turn;
  readings: Reading[];
}

const TOP_KEYS = ['format', 'model', 'instrument', 'handedness', 'readings'];
const ROW_KEYS = ['name', 'value', 'reader', 'round', 'note'];
const MOST_ROUNDS = 99;
const LONGEST_TEXT = 200;

/**
 * Parses a readings file to readings in mm. `known` are the names of the check points, `modelId` is the number of their model: readings
 * of another model are rejected. Throws InputFailure (3) with every problem of the file,
 * `FILE:LINE:COLUMN PATH: text`.
 */
export function parseReadings(
  bytes: Uint8Array,
  fileName: string,
  known: readonly string[],
  modelId: string | undefined,
): Readings {
  const decoded = decodeYaml(bytes, fileName, { exitCode: 3 });
  refuseForeign(decoded, fileName, { what: 'pavm readings file', format: FORMAT, exitCode: 3 });
  const yaml = parseLocatedYaml(decoded, fileName, { exitCode: 3 });
  requireFormat(yaml);
  const problems = new Problems(yaml, fileName, 3);
  checkKeys(yaml, '', TOP_KEYS, problems);
  const namesModel = checkModel(yaml, modelId);
  const handedness = turnOf(yaml, problems);
  const instrument = text(yaml, 'instrument', problems);
  const list = yaml.get('readings');
  const readings: Reading[] = [];
  if (!Array.isArray(list) || list.length === 0) {
    problems.add('readings', 'a list of readings is needed, for example [{ name: G1, value: "8.1 mm" }].');
  } else {
    const first = new Map<string, string>();
    list.forEach((_, i) => {
      const reading = readRow(yaml, `readings[${i}]`, known, problems);
      if (!reading) return;
      const key = JSON.stringify([reading.name, reading.reader, reading.round]);
      const before = first.get(key);
      if (before)
        problems.add(
          `readings[${i}].name`,
          `${quoted(reading.name)} is in ${before} already. Give repeated readings their reader and round, for example { name: G1, reader: A, round: 2, value: "8.1 mm" }.`,
        );
      else first.set(key, `readings[${i}]`);
      readings.push(reading);
    });
  }
  problems.throwIfAny();
  return {
    ...(instrument !== undefined && { instrument }),
    namesModel,
    ...(handedness !== undefined && { handedness }),
    readings,
  };
}

/** Whether the file names the model. Throws for another model, since its check points differ. */
function checkModel(yaml: LocatedYaml, modelId: string | undefined): boolean {
  // Kept as text, since eight digits, or digits with one E, would parse as a number.
  const written = yaml.source('model')?.replace(/^(['"])(.*)\1$/, '$2');
  if (yaml.get('model') === undefined) return false;
  if (modelId !== undefined && written?.trim().toUpperCase() === modelId) return true;
  throw new InputFailure(
    3,
    `${yaml.locate('model')} model: ${written === undefined ? 'this' : quoted(written)} is another model${modelId === undefined ? '' : `; this case gives ${modelId}`}. Give the case that the print was made from (the number is on its tag), or print and measure again.`,
  );
}

const TURNS: readonly Turn[] = ['clockwise', 'anticlockwise'];

function turnOf(yaml: LocatedYaml, problems: Problems): Turn | undefined {
  const value = yaml.get('handedness');
  if (value === undefined) return undefined;
  const turn = TURNS.find((t) => t === value);
  if (turn === undefined)
    problems.add(
      'handedness',
      'write clockwise or anticlockwise, as gauges.md asks; leave it out where it was not read.',
    );
  return turn;
}

function requireFormat(yaml: LocatedYaml): void {
  const { value } = yaml;
  if (!isMap(value))
    throw new InputFailure(
      3,
      `${yaml.locate('')} the file contains no keys. A readings file starts with "format: ${FORMAT}".`,
    );
  if (yaml.get('format') === FORMAT) return;
  const written = yaml.source('format');
  throw new InputFailure(
    3,
    `${yaml.locate('format')} format: ${written === undefined ? 'is missing' : `${formatWords(written)} is not a readings file of this edition`}. Write "format: ${FORMAT}".`,
  );
}

function readRow(
  yaml: LocatedYaml,
  path: string,
  known: readonly string[],
  problems: Problems,
): Reading | undefined {
  if (!isMap(yaml.get(path))) {
    problems.add(path, 'a reading is written { name: G1, value: "8.1 mm" }.');
    return undefined;
  }
  checkKeys(yaml, path, ROW_KEYS, problems);
  text(yaml, `${path}.note`, problems);
  const reader = text(yaml, `${path}.reader`, problems);
  const round = roundOf(yaml, `${path}.round`, problems);
  const name = yaml.get(`${path}.name`);
  if (typeof name !== 'string') {
    problems.add(`${path}.name`, 'is missing. Write the name of a check point, for example G1.');
  } else if (!known.includes(name)) {
    problems.add(
      `${path}.name`,
      `${quoted(name)} is not a check point of this print. ${nearestHint(name, known.length > 0 ? known : ['none'])}`,
    );
  }
  const value = yaml.get(`${path}.value`);
  const written = yaml.source(`${path}.value`);
  if (value === undefined || value === null || written === undefined) {
    problems.add(
      `${path}.value`,
      'is missing. Write for example "8.1 mm"; leave out a point that was not read.',
    );
    return undefined;
  }
  const quantity = parseQuantity(written, 'length', 'mm');
  if (!quantity.ok) {
    problems.add(`${path}.value`, quantity.problem);
    return undefined;
  }
  if (!(quantity.value > 0)) {
    problems.add(`${path}.value`, `${quoted(written)} is not a size. A reading is above 0.`);
    return undefined;
  }
  if (typeof name !== 'string') return undefined;
  return {
    name,
    valueMm: quantity.value,
    asWritten: written,
    ...(reader !== undefined && { reader }),
    ...(round !== undefined && { round }),
  };
}

function roundOf(yaml: LocatedYaml, path: string, problems: Problems): number | undefined {
  const value = yaml.get(path);
  if (value === undefined) return undefined;
  if (typeof value === 'number' && Number.isInteger(value) && value >= 1 && value <= MOST_ROUNDS)
    return value;
  problems.add(path, `a whole number from 1 to ${MOST_ROUNDS} is needed, for example round: 2.`);
  return undefined;
}

function checkKeys(yaml: LocatedYaml, path: string, known: readonly string[], problems: Problems): void {
  const value = path === '' ? yaml.value : yaml.get(path);
  if (!isMap(value)) return;
  for (const key of Object.keys(value)) {
    if (known.includes(key)) continue;
    const below = path === '' ? key : `${path}.${key}`;
    problems.add(
      below,
      `the key ${quoted(key)} is not known here. ${nearestHint(key, known)}`,
      yaml.keyPosition(below),
    );
  }
}

function text(yaml: LocatedYaml, path: string, problems: Problems): string | undefined {
  const value = yaml.get(path);
  if (value === undefined) return undefined;
  if (typeof value !== 'string' || value.length > LONGEST_TEXT || hasInvisible(value)) {
    problems.add(path, `a text of at most ${LONGEST_TEXT} visible characters is needed.`);
    return undefined;
  }
  return value;
}

const isMap = (value: YamlValue | undefined): value is { [key: string]: YamlValue } =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
