import { EXIT, InputFailure } from '../foundation/failure.js';
import type { Row } from './row.js';
import { MOST_SHARDS } from './shard.js';
import type { Summary } from './summary.js';

const TEXTS = [
  'title',
  'plan',
  'fingerprint',
  'lesion_kind',
  'devices',
  'recommended',
  'plan_a',
  'plan_b',
] as const;
const NUMBERS = [
  'feeders',
  'missed_feeders',
  'shunt_percent',
  'shunt_upper_limit_percent',
  'shunt_after_percent',
  'sac_volume_ml',
  'largest_landing_mm',
  'stops',
  'cautions',
] as const;

const INTERVALS = ['shunt_interval_percent', 'shunt_after_interval_percent'] as const;

/** Parses and checks a summary file. Throws InputFailure (3). */
export function parseSummary(bytes: Uint8Array, name: string): Summary {
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder().decode(bytes));
  } catch {
    throw new InputFailure(EXIT.input, `${name}: this is not JSON. Run that share again.`);
  }
  return checkSummary(value, name);
}

/** Checks every key of a summary that is used; unknown keys are dropped. Throws InputFailure (3). */
function checkSummary(value: unknown, name: string): Summary {
  const bad = (what: string): never => {
    throw new InputFailure(
      3,
      `${name}: this is not a summary of this edition (${what}). Run that share again.`,
    );
  };
  const top = objectOf(value);
  if (top?.format !== 'pavm-batch/1') return bad('format: pavm-batch/1 is missing');
  const tool = objectOf(top.tool);
  if (typeof tool?.name !== 'string' || typeof tool.version !== 'string' || typeof tool.rule_set !== 'string')
    return bad('tool');
  const shard = objectOf(top.shard);
  if (top.shard !== undefined && !(isShare(shard?.index) && isShare(shard?.of))) return bad('shard');
  if (!Array.isArray(top.cases)) return bad('cases');
  const cases = top.cases.map((row, i) => checkRow(row) ?? bad(`cases[${i}]`));
  const count = (status: Row['status']): number => cases.filter((row) => row.status === status).length;
  return {
    format: 'pavm-batch/1',
    tool: { name: tool.name, version: tool.version, rule_set: tool.rule_set },
    ...(shard && { shard: { index: shard.index as number, of: shard.of as number } }),
    exit_code: cases.reduce((most, row) => Math.max(most, row.exit_code), 0),
    done: count('done'),
    failed: count('failed'),
    left: count('left'),
    cases,
  };
}

function objectOf(value: unknown): Record<string, unknown> | undefined {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
    ? (value as Record<string, unknown>)
    : undefined;
}

const isShare = (value: unknown): boolean =>
  Number.isInteger(value) && (value as number) > 0 && (value as number) <= MOST_SHARDS;

/** A row of a summary, checked in every key that is used; undefined if invalid. */
export const isRow = (value: unknown): value is Row => checkRow(value) !== undefined;

function checkRow(value: unknown): Row | undefined {
  const row = objectOf(value);
  if (row === undefined || typeof row.case !== 'string') return undefined;
  const { status, exit_code, problems } = row;
  if (status !== 'done' && status !== 'failed' && status !== 'left') return undefined;
  if (!Number.isInteger(exit_code) || (exit_code as number) < 0 || (exit_code as number) > 5)
    return undefined;
  if (!Array.isArray(problems) || !problems.every((one) => typeof one === 'string')) return undefined;
  if (status !== 'done' && problems.length === 0) return undefined;
  if (TEXTS.some((key) => row[key] !== undefined && typeof row[key] !== 'string')) return undefined;
  if (NUMBERS.some((key) => row[key] !== undefined && !Number.isFinite(row[key]))) return undefined;
  if (row.shunt_from !== undefined && row.shunt_from !== 'before' && row.shunt_from !== 'after')
    return undefined;
  const isInterval = (value: unknown): boolean =>
    Array.isArray(value) && value.length === 2 && value.every((one) => Number.isFinite(one));
  if (INTERVALS.some((key) => row[key] !== undefined && !isInterval(row[key]))) return undefined;
  return value as Row;
}
