import { fixed } from '../foundation/number-text.js';
import { bullets, document, markdownText, section, table } from '../report/markdown.js';
import { compareNames } from '../report/words.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import { csvText } from './csv.js';
import type { Row } from './row.js';
import type { Shard } from './shard.js';

/** All cases of a run, or of one share of it. */
export interface Summary {
  format: 'pavm-batch/1';
  tool: { name: string; version: string; rule_set: string };
  shard?: Shard;
  exit_code: number;
  done: number;
  failed: number;
  left: number;
  cases: Row[];
}

/** Counts the rows and sorts them by name. */
export function summaryOf(rows: readonly Row[], tool: Summary['tool'], shard?: Shard): Summary {
  const count = (status: Row['status']): number => rows.filter((row) => row.status === status).length;
  return {
    format: 'pavm-batch/1',
    tool,
    ...(shard && { shard }),
    exit_code: rows.reduce((most, row) => Math.max(most, row.exit_code), 0),
    done: count('done'),
    failed: count('failed'),
    left: count('left'),
    cases: [...rows].sort((a, b) => compareNames(a.case, b.case)),
  };
}

/** Whether a file is a summary written by a batch, in the format of its name. */
export function isSummary(name: string, text: string): boolean {
  if (name.endsWith('.csv'))
    return text.startsWith(
      COLUMNS.slice(0, 3)
        .map(([column]) => column)
        .join(','),
    );
  if (name.endsWith('.md')) return text.startsWith('# Cases') && text.includes(STANDING_CAUTIONS[0]);
  try {
    return (JSON.parse(text) as { format?: unknown } | null)?.format === 'pavm-batch/1';
  } catch {
    return false;
  }
}

export const summaryJson = (summary: Summary): string => `${JSON.stringify(summary, null, 2)}\n`;

const COLUMNS: readonly (readonly [string, (row: Row) => string | number | undefined])[] = [
  ['case', (row) => row.case],
  ['status', (row) => row.status],
  ['exit_code', (row) => row.exit_code],
  ['title', (row) => row.title],
  ['lesion_kind', (row) => row.lesion_kind],
  ['feeders', (row) => row.feeders],
  ['missed_feeders', (row) => row.missed_feeders],
  ['shunt_percent', (row) => row.shunt_percent],
  ['shunt_low_percent', (row) => row.shunt_interval_percent?.[0]],
  ['shunt_high_percent', (row) => row.shunt_interval_percent?.[1]],
  ['shunt_upper_limit_percent', (row) => row.shunt_upper_limit_percent],
  ['shunt_from', (row) => row.shunt_from],
  ['shunt_after_percent', (row) => row.shunt_after_percent],
  ['shunt_after_low_percent', (row) => row.shunt_after_interval_percent?.[0]],
  ['shunt_after_high_percent', (row) => row.shunt_after_interval_percent?.[1]],
  ['sac_volume_ml', (row) => row.sac_volume_ml],
  ['largest_landing_mm', (row) => row.largest_landing_mm],
  ['devices', (row) => row.devices],
  ['recommended', (row) => row.recommended],
  ['plan_a', (row) => row.plan_a],
  ['plan_b', (row) => row.plan_b],
  ['stops', (row) => row.stops],
  ['cautions', (row) => row.cautions],
  ['plan', (row) => row.plan],
  ['problems', (row) => row.problems.join(' | ')],
  ['fingerprint', (row) => row.fingerprint],
];

/** One line for each case; unknown values are empty cells. */
export function summaryCsv({ cases }: Summary): string {
  return csvText([
    COLUMNS.map(([name]) => name),
    ...cases.map((row) => COLUMNS.map(([, read]) => read(row))),
  ]);
}

/** The summary as Markdown, for people. */
export function summaryMarkdown(summary: Summary): string {
  const { cases, done, failed, left, shard } = summary;
  const part = shard ? `, share ${shard.index} of ${shard.of}` : '';
  const broken = cases.filter(({ status }) => status !== 'done');
  const missed = cases.filter(({ missed_feeders: count = 0 }) => count > 0);
  const stopped = cases.filter(({ status, problems }) => status === 'done' && problems.length > 0);
  const listed = (rows: readonly Row[]): string =>
    bullets(
      rows.flatMap((row) =>
        row.problems.map((problem) => `${markdownText(row.case)}: ${markdownText(problem)}`),
      ),
    );
  return document([
    section(1, `Cases${part}`, [
      `${done} done, ${failed} failed, ${left} left. Version ${markdownText(summary.tool.version)}.`,
      cases.length === 0 ? 'No case is in this share.' : caseTable(cases),
    ]),
    ...(broken.length > 0 ? [section(2, 'Failed or left', [listed(broken)])] : []),
    ...(stopped.length > 0 ? [section(2, 'Findings that stop', [listed(stopped)])] : []),
    ...(missed.length > 0 ? [section(2, 'Vessels in no surface', [bullets(missed.map(missedText))])] : []),
    section(2, 'Cautions', [bullets(STANDING_CAUTIONS.map(markdownText))]),
  ]);
}

const missedText = ({ case: name, missed_feeders: count }: Row): string =>
  `${markdownText(name)}: ${count === 1 ? '1 opacified vessel that may feed the lesion lies' : `${count} opacified vessels that may feed the lesion lie`} in no surface. Look at them on the slices.`;

/** A table cell without a value, as for a case that failed. */
const UNKNOWN = '–';

function shuntText({
  shunt_percent: percent,
  shunt_upper_limit_percent: limit,
  shunt_from: from,
}: Row): string {
  if (percent === undefined) return UNKNOWN;
  const value =
    limit === undefined ? `${fixed(percent, 1)} %` : `none to be told, at most ${fixed(limit, 1)} %`;
  return from === undefined ? value : `${value} (${from} treatment)`;
}

function caseTable(cases: readonly Row[]): string {
  const number = (value: number | undefined, digits: number, unit: string): string =>
    value === undefined ? UNKNOWN : `${fixed(value, digits)} ${unit}`;
  const word = (value: string | number | undefined): string =>
    value === undefined ? UNKNOWN : markdownText(String(value));
  return table(
    [
      'case',
      'status',
      'kind',
      'shunt that counts now',
      'shunt after treatment',
      'sac',
      'devices',
      'recommended',
      'plan A',
      'plan B',
      'stops',
      'cautions',
    ],
    cases.map((row) => [
      row.plan === undefined
        ? markdownText(row.case)
        : `[${markdownText(row.case)}](<${linkTo(row.plan)}/plan.md>)`,
      row.status,
      word(row.lesion_kind),
      shuntText(row),
      number(row.shunt_after_percent, 1, '%'),
      number(row.sac_volume_ml, 2, 'mL'),
      // distinguishes "no device to choose" from "nothing computed"
      word(row.devices === '' ? 'none' : row.devices),
      word(row.recommended),
      word(row.plan_a),
      word(row.plan_b),
      word(row.stops),
      word(row.cautions),
    ]),
    ['left', 'left', 'left', 'right', 'right', 'right', 'left', 'left', 'left', 'left', 'right', 'right'],
  );
}

/** A path as a link's target, escaped so that it cannot end the link. */
const linkTo = (path: string): string => path.split('/').map(encodeURIComponent).join('/');
