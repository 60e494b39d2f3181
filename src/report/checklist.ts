import type { Result } from '../result/result.generated.js';
import { cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import { bullets, clause, document, markdownText, section, sentence } from './markdown.js';
import { lobeText, sourceText } from './words.js';

type Item = Result['checklist'][number];
type Moment = NonNullable<Item['moment']>;

const MOMENTS: Record<Moment, string> = {
  planning: 'Planning',
  'sign-in': 'Sign-in: before anaesthesia',
  'time-out': 'Time-out: before puncture or incision',
  'sign-out': 'Sign-out: before leaving the room',
  after: 'After the procedure',
};

const LEVELS: readonly Item['level'][] = ['stop', 'caution', 'note', 'ok'];

/**
 * Writes checklist.md: stop items first, then every item with a tick box under its moment, the gravest first.
 * Moments follow the WHO Surgical Safety Checklist (2009), with planning before it and aftercare behind it.
 */
export function renderChecklist(result: Result): string {
  const title = result.title ? markdownText(result.title) : `Case ${markdownText(result.case)}`;
  return document([
    section(1, `Risk checklist: ${title}`, [
      `Case ${markdownText(result.case)}, ${lobeText(result.lesion)}. ${countText(result)}`,
      purposeBanner(result),
      'A box is ticked by the person who checked, not by the program. OK means that the data of this case raise no concern; confirm it at the bedside.',
    ]),
    section(2, 'Stop items', [stopText(result)]),
    ...momentSections(result.checklist),
    provenanceSection(result),
    cautionsSection(result),
  ]);
}

function countText(result: Result): string {
  const counts = LEVELS.map((level) => {
    const n = result.checklist.filter((item) => item.level === level).length;
    return `${n} ${level.toUpperCase()}`;
  });
  return `Items: ${counts.join(', ')}.`;
}

function stopText(result: Result): string {
  const items = result.checklist.filter((item) => item.level === 'stop').map(itemText);
  const findings = result.findings
    .filter((finding) => finding.level === 'stop')
    .map(
      (finding) =>
        `[ ] **STOP** Settle the finding on ${markdownText(finding.where)}: ${clause(finding.text)}`,
    );
  const lines = [...items, ...findings];
  return lines.length > 0
    ? bullets(lines)
    : 'None: no item and no finding of this case is at stop level. Local stop rules still apply.';
}

function momentSections(items: readonly Item[]): string[] {
  if (items.length === 0) {
    return [section(2, 'Items', ['The result holds no checklist item; use the local safety checklist.'])];
  }
  const rest = items.filter((item) => item.level !== 'stop');
  const groups: (readonly [Moment | undefined, string])[] = [
    ...(Object.entries(MOMENTS) as [Moment, string][]),
    [undefined, 'At any moment'],
  ];
  return groups.flatMap(([moment, heading]) => {
    const all = items.filter((item) => item.moment === moment);
    if (all.length === 0) return [];
    const own = rest.filter((item) => item.moment === moment);
    const stops = all.length - own.length;
    const lines = LEVELS.flatMap((level) => own.filter((item) => item.level === level)).map(itemText);
    return [
      section(2, heading, [
        stops > 0
          ? `Settle first: ${stops === 1 ? '1 stop item above belongs' : `${stops} stop items above belong`} to this moment.`
          : undefined,
        lines.length > 0 ? bullets(lines) : undefined,
      ]),
    ];
  });
}

function itemText(item: Item): string {
  const moment = item.level === 'stop' && item.moment ? ` (${item.moment})` : '';
  return [
    `[ ] **${item.level.toUpperCase()}**${moment} ${sentence(item.text)}`,
    `  - Why: ${clause(item.because)}`,
    `  - Source: ${sourceText(item.source)}.`,
  ].join('\n');
}
