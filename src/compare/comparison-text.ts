import { coordinates, fixed } from '../foundation/number-text.js';
import { bullets, document, markdownText, section, table } from '../report/markdown.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { Comparison } from './compare.js';
import { yearsText } from './growth.js';
import type { MatchedIn } from './match-vessels.js';
import { isShare } from './number-words.js';
import type { Interval, NumberChange } from './numbers.js';
import { verdictLine } from './verdict.js';

/** Whether a text is a comparison that this function wrote. */
export const isComparison = (text: string): boolean =>
  text.startsWith('# Old and new plan:') && text.includes(STANDING_CAUTIONS[0]);

/** The comparison as Markdown: verdict first, then what changed and why, then every number. */
export function comparisonText(comparison: Comparison): string {
  const { new: now, notes, feeders, decisions, growth, shrinkage } = comparison;
  // the print depends on the lesion and the printing process; its numbers are in the JSON
  const numbers = comparison.numbers.filter(({ path }) => !path.startsWith('print.'));
  const beyond = numbers.filter(({ exceeds }) => exceeds);
  const heading = section(1, `Old and new plan: ${markdownText(now.title ?? now.case)}`, [
    `**Verdict: ${markdownText(verdictLine(comparison))}.**`,
    scans(comparison),
    notes.length > 0 ? bullets(notes.map(markdownText)) : undefined,
  ]);
  const parts = [
    heading,
    section(2, 'Decisions', [
      decisions.length === 0
        ? 'No decision changed.'
        : table(
            ['decision', 'old', 'new', 'changes the plan', 'why'],
            decisions.map((one) => [
              markdownText(one.what),
              markdownText(one.old),
              markdownText(one.new),
              one.changesPlan ? 'yes' : 'no',
              one.because.map(markdownText).join('; ') || 'not stated',
            ]),
          ),
    ]),
    section(2, 'Vessels', [
      comparison.vessels.length === 0
        ? 'Neither plan has a measured vessel.'
        : table(
            ['old', 'new', 'role', 'matched by', 'necks apart', 'courses apart'],
            comparison.vessels.map((one) => [
              one.oldName === undefined ? 'none' : markdownText(one.oldName),
              one.newName === undefined ? 'none' : markdownText(one.newName),
              one.role,
              MATCHED_WORDS[one.matchedBy],
              one.neckDistanceMm === undefined ? '' : `${fixed(one.neckDistanceMm, 1)} mm`,
              one.courseDistanceMm === undefined ? '' : `${fixed(one.courseDistanceMm, 1)} mm`,
            ]),
            ['left', 'left', 'left', 'left', 'right', 'right'],
          ),
      comparison.vessels.length > 0 ? placementText(comparison) : undefined,
      feeders.length > 0
        ? bullets(feeders.map(({ text }) => markdownText(text)))
        : 'The feeding arteries are the same.',
    ]),
    section(2, 'Growth', [
      growth.length === 0
        ? `Not computed: ${markdownText(comparison.growthAbsentBecause ?? 'no size was measured on both scans')}.`
        : table(
            ['size', 'a year', '95 % interval', 'reading'],
            growth.map(({ what, perYear, unit, interval, text }) => [
              markdownText(what),
              `${signed(perYear, 2)} ${unit}`,
              interval ? `${signed(interval[0], 2)} to ${signed(interval[1], 2)} ${unit}` : 'not known',
              markdownText(text),
            ]),
            ['left', 'right', 'right', 'left'],
          ),
    ]),
    section(2, 'Shunt', [markdownText(comparison.shuntTrend)]),
    section(2, 'After treatment', [
      comparison.outcome && markdownText(comparison.outcome.text),
      shrinkage
        ? markdownText(shrinkage.text)
        : `Shrinkage not read: ${markdownText(comparison.shrinkageAbsentBecause ?? 'not measured')}.`,
    ]),
    ...overlaySection(comparison),
    section(2, 'Numbers that changed beyond both intervals', [
      beyond.length === 0 ? 'None.' : numberTable(beyond),
    ]),
    section(2, 'Every number', [
      'A change is set against the two 95 % intervals, combined as independent (JCGM 100:2008, 5.1.2); that of a percentage is in percentage points. Left out: samples along the vessels, places in the axes of each scan, and the print. `--json` holds each number under its path in `result.json`.',
      numbers.length === 0 ? 'Neither plan contains a number.' : numberTable(numbers),
    ]),
    section(2, 'Cautions', [bullets(STANDING_CAUTIONS.map(markdownText))]),
  ];
  return document(parts);
}

const MATCHED_WORDS: Record<Comparison['vessels'][number]['matchedBy'], string> = {
  name: 'name and place',
  geometry: 'place, under another name',
  'name-only': 'name alone',
  none: 'in one scan only',
};

const MATCHED_IN: Record<MatchedIn, string> = {
  pose: 'after the vessels of the new scan were laid over those of the old',
  sac: 'from the middle of the sac; the two scans could not be laid over one another by their vessels',
  'as-given': 'as the coordinates are; the two scans could not be laid over one another',
};

/** The pose in which the vessels were compared. */
function placementText({ matchedIn, placement }: Comparison): string {
  const how =
    matchedIn === 'pose' && placement
      ? `: turned by ${fixed(placement.turnDeg, 1)}°, misfit of the courses ${fixed(placement.misfitMm, 1)} mm`
      : '';
  return `Distances are measured ${MATCHED_IN[matchedIn]}${how}.`;
}

function overlaySection({ overlay, overlayAbsentBecause }: Comparison): string[] {
  const title = 'The new scan laid over the old';
  if (overlayAbsentBecause !== undefined)
    return [section(2, title, [`Not laid over: ${markdownText(overlayAbsentBecause)}.`])];
  if (overlay === undefined) return [];
  const { limitMm } = overlay;
  const shift = coordinates(overlay.pose.translationMm);
  return [
    section(2, title, [
      `By turn and shift alone; the pose depends on ${markdownText(overlay.basis)}. Turned by ${fixed(overlay.turnDeg, 1)}°, shifted by ${shift} mm; misfit ${fixed(overlay.misfitMm, 2)} mm.`,
      overlay.notes.length > 0 ? bullets(overlay.notes.map(markdownText)) : undefined,
      table(
        ['structure', 'mean', 'RMS', '95 %', 'farthest outside', 'farthest inside', 'beyond the scans'],
        overlay.rows.map((row) => [
          markdownText(row.name === row.oldName ? row.name : `${row.name} (was ${row.oldName})`),
          `${signed(row.meanMm, 2)} mm`,
          `${fixed(row.rmsMm, 2)} mm`,
          `${fixed(row.p95Mm, 2)} mm`,
          `${fixed(row.outwardMm, 2)} mm`,
          `${fixed(row.inwardMm, 2)} mm`,
          row.beyondLimit === undefined ? 'not known' : `${fixed(100 * row.beyondLimit, 0)} %`,
        ]),
        ['left', 'right', 'right', 'right', 'right', 'right', 'right'],
      ),
      `Distances of the new surface from the old, positive outside. ${
        limitMm === undefined
          ? ''
          : `Beyond the scans: the part of the surface that is farther than ${fixed(limitMm, 2)} mm, the coarser scan's largest voxel edge, from the old one. `
      }Ends of vessels lie where the segmentation stopped and are no change.`,
      ...overlay.figures.map((name) => `![${markdownText(name)}](${name})`),
    ]),
  ];
}

function scans({ old, new: now, years }: Comparison): string {
  const side = (one: Comparison['old']): string =>
    `${markdownText(one.case)}, scan of ${one.scanDate ?? 'no date'}, version ${markdownText(one.version)}`;
  const apart = years === undefined ? '' : ` The scans are ${yearsText(years)} apart.`;
  return `Old: ${side(old)}. New: ${side(now)}.${apart}`;
}

/** Decimals printed for each unit. */
const DIGITS: Readonly<Record<string, number>> = { '%': 1, deg: 0, mmHg: 1, cm2: 1, cmH2O: 0 };

/** Decimals for a row: none for counts, one more than usual for sizes below one. */
function digitsOf({ unit, old, new: now, oldInterval, newInterval }: NumberChange): number {
  const values = [old, now].filter((value) => value !== undefined);
  const isCount = unit === '' && !oldInterval && !newInterval && values.every(Number.isInteger);
  if (isCount) return 0;
  const usual = Object.hasOwn(DIGITS, unit) ? DIGITS[unit] : 2;
  const largest = Math.max(...values.map(Math.abs));
  return usual > 0 && largest > 0 && largest < 1 ? usual + 1 : usual;
}

const UNIT_SIGNS: Readonly<Record<string, string>> = { deg: '°', cm2: ' cm²', mm2: ' mm²', '': '' };
const unitSign = (unit: string): string => (Object.hasOwn(UNIT_SIGNS, unit) ? UNIT_SIGNS[unit] : ` ${unit}`);

/** With its sign, or without one if it is printed as 0. */
function signed(value: number, digits: number): string {
  const text = fixed(value, digits);
  return Number(text) > 0 ? `+${text}` : text;
}

/** Fractions are printed in percent. */
function shown(one: NumberChange): NumberChange {
  if (!isShare(one.path)) return one;
  const times = (value: number | undefined): number | undefined =>
    value === undefined ? undefined : 100 * value;
  const both = (range: Interval | undefined): Interval | undefined =>
    range && [100 * range[0], 100 * range[1]];
  return {
    ...one,
    unit: '%',
    old: times(one.old),
    new: times(one.new),
    oldInterval: both(one.oldInterval),
    newInterval: both(one.newInterval),
    change: times(one.change),
  };
}

function numberTable(numbers: readonly NumberChange[]): string {
  const cell = (
    value: number | undefined,
    interval: Interval | undefined,
    unit: string,
    digits: number,
  ): string => {
    if (value === undefined) return 'absent';
    const range = interval ? ` (${fixed(interval[0], digits)} to ${fixed(interval[1], digits)})` : '';
    return `${fixed(value, digits)}${unitSign(unit)}${range}`;
  };
  const changed = ({ change, unit }: NumberChange, digits: number): string =>
    change === undefined ? '' : `${signed(change, digits)}${unit === '%' ? ' points' : unitSign(unit)}`;
  const verdict = ({ change, exceeds, noTrendBecause }: NumberChange): string =>
    noTrendBecause !== undefined
      ? 'other method'
      : change === undefined
        ? 'in one plan only'
        : exceeds === undefined
          ? 'no interval'
          : exceeds
            ? 'yes'
            : 'no';
  return table(
    ['number', 'old (95 %)', 'new (95 %)', 'change', 'beyond both'],
    numbers.map((number) => {
      const one = shown(number);
      const digits = digitsOf(one);
      return [
        markdownText(one.what),
        cell(one.old, one.oldInterval, one.unit, digits),
        cell(one.new, one.newInterval, one.unit, digits),
        changed(one, digits),
        verdict(one),
      ];
    }),
    ['left', 'right', 'right', 'right', 'left'],
  );
}
