import { fixed } from '../foundation/number-text.js';
import { bullets, document, markdownText, section, table } from '../report/markdown.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import { type Comparison, verdictLine, yearsText } from './compare.js';
import type { Interval, NumberChange } from './numbers.js';

/** Whether a text is a comparison that this function wrote. */
export const isComparison = (text: string): boolean =>
  text.startsWith('# Old and new plan:') && text.includes(STANDING_CAUTIONS[0]);

/** The comparison as Markdown: verdict first, then what changed and why, then every number. */
export function comparisonText(comparison: Comparison): string {
  const { new: now, notes, feeders, decisions, growth, shrinkage, numbers } = comparison;
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
              one.matchedBy === 'none' ? 'in one scan only' : one.matchedBy,
              one.neckDistanceMm === undefined ? '' : `${fixed(one.neckDistanceMm, 1)} mm`,
              one.courseDistanceMm === undefined ? '' : `${fixed(one.courseDistanceMm, 1)} mm`,
            ]),
            ['left', 'left', 'left', 'left', 'right', 'right'],
          ),
      'Distances are seen from the middle of the sac: the two scans are not laid over one another.',
      feeders.length > 0
        ? bullets(feeders.map(({ text }) => markdownText(text)))
        : 'The feeding arteries are the same.',
    ]),
    section(2, 'Growth', [
      growth.length === 0
        ? 'Not computed: it needs two scan dates in their order and a size measured on both.'
        : table(
            ['size', 'a year', '95 % interval', 'reading'],
            growth.map(({ path, perYear, unit, interval, text }) => [
              markdownText(path),
              `${signed(perYear, 2)} ${unit}`,
              interval ? `${signed(interval[0], 2)} to ${signed(interval[1], 2)} ${unit}` : 'not known',
              markdownText(text),
            ]),
            ['left', 'right', 'right', 'left'],
          ),
    ]),
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
      'A change is set against the two 95 % intervals, combined as independent (JCGM 100:2008, 5.1.2). Left out: samples along the vessels, places in the axes of each scan and the check points of each print.',
      numbers.length === 0 ? 'Neither plan holds a number.' : numberTable(numbers),
    ]),
    section(2, 'Cautions', [bullets(STANDING_CAUTIONS.map(markdownText))]),
  ];
  return document(parts);
}

function overlaySection({ overlay, overlayAbsentBecause }: Comparison): string[] {
  const title = 'The new scan laid over the old';
  if (overlayAbsentBecause !== undefined)
    return [section(2, title, [`Not laid over: ${markdownText(overlayAbsentBecause)}.`])];
  if (overlay === undefined) return [];
  const { limitMm } = overlay;
  const shift = overlay.pose.translationMm.map((c) => fixed(c, 1)).join(', ');
  return [
    section(2, title, [
      `By turn and shift alone; the pose rests on ${markdownText(overlay.basis)}. Turned by ${fixed(overlay.turnDeg, 1)}°, shifted by ${shift} mm; misfit ${fixed(overlay.misfitMm, 2)} mm.`,
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
          : `Beyond the scans: the part of the surface that lies farther than ${fixed(limitMm, 2)} mm, the coarser scan's largest voxel edge, from the old one. `
      }Ends of vessels lie where the segmentation stopped and are no change.`,
      ...overlay.figures.map((name) => `![${markdownText(name)}](${name})`),
    ]),
  ];
}

function scans({ old, new: now, years }: Comparison): string {
  const side = (one: Comparison['old']): string =>
    `${markdownText(one.case)}, scan of ${one.scanDate ?? 'no date'}, version ${markdownText(one.version)}`;
  const apart = years === undefined ? '' : ` ${yearsText(years)} lie between the scans.`;
  return `Old: ${side(old)}. New: ${side(now)}.${apart}`;
}

/** Digits that show a value of this size with four significant figures, at most four after the point. */
const digitsFor = (value: number): number =>
  Math.min(4, Math.max(0, 3 - Math.floor(Math.log10(Math.abs(value) || 1))));

const signed = (value: number, digits: number): string => `${value > 0 ? '+' : ''}${fixed(value, digits)}`;

/** Whole numbers without an interval are counts and change by whole numbers. */
const changeDigits = ({ old = 1, new: now = 1, oldInterval }: NumberChange): number =>
  Number.isInteger(old) && Number.isInteger(now) && oldInterval === undefined ? 0 : digitsFor(old);

function numberTable(numbers: readonly NumberChange[]): string {
  const cell = (value: number | undefined, interval: Interval | undefined, unit: string): string => {
    if (value === undefined) return 'absent';
    const digits = Number.isInteger(value) && interval === undefined ? 0 : digitsFor(value);
    const range = interval ? ` (${fixed(interval[0], digits)} to ${fixed(interval[1], digits)})` : '';
    return `${fixed(value, digits)}${unit ? ` ${unit}` : ''}${range}`;
  };
  const verdict = ({ change, exceeds }: NumberChange): string =>
    change === undefined
      ? 'in one plan only'
      : exceeds === undefined
        ? 'no interval'
        : exceeds
          ? 'yes'
          : 'no';
  return table(
    ['number', 'old (95 %)', 'new (95 %)', 'change', 'beyond both'],
    numbers.map((one) => [
      markdownText(one.path),
      cell(one.old, one.oldInterval, one.unit),
      cell(one.new, one.newInterval, one.unit),
      one.change === undefined
        ? ''
        : `${signed(one.change, changeDigits(one))}${one.unit ? ` ${one.unit}` : ''}`,
      verdict(one),
    ]),
    ['left', 'right', 'right', 'right', 'left'],
  );
}
