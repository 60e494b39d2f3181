import type { Result } from '../result/result.generated.js';
import { Citations } from './citations.js';
import { type Closing, cautionsSection, provenanceSection, purposeBanner } from './closing.js';
import { bullets, document, markdownText, section } from './markdown.js';
import { lobeText } from './words.js';

type Item = Result['checklist'][number];
type Moment = NonNullable<Item['moment']>;

const MOMENTS: Record<Moment, string> = {
  planning: 'Planning',
  'sign-in': 'Sign-in: before anaesthesia',
  'time-out': 'Time-out: before puncture or incision',
  'sign-out': 'Sign-out: before leaving the operating theatre',
  after: 'After the procedure',
};

const LEVELS: readonly Item['level'][] = ['stop', 'caution', 'note', 'ok'];

/** The parts of a result that the checklist needs. */
export type Checklisted = Closing &
  Pick<Result, 'title' | 'checklist' | 'findings' | 'pulmonary_pressure'> &
  Partial<Pick<Result, 'lesion'>>;

/**
 * Writes checklist.md: stop items first, then the open items as tick boxes under their moment, most serious first, then one list of items
 * without concern.
 * `isPart`: the checklist follows the plan in one document, which already gives the provenance. `what`: replaces the text on case and
 * lobe.
 * Moments follow the WHO Surgical Safety Checklist (2009), with planning before it and aftercare after it.
 */
export function renderChecklist(
  result: Checklisted,
  { isPart = false, what }: { isPart?: boolean; what?: string } = {},
): string {
  const title = result.title ? markdownText(result.title) : `Case ${markdownText(result.case)}`;
  const cite = new Citations();
  return document([
    section(1, `Risk checklist: ${title}`, [
      `${what ?? `Case ${markdownText(result.case)}, ${lobeText(result.lesion ?? {})}`}. ${countText(result)}`,
      purposeBanner(result),
      'A box is ticked by the person who checked, not by the program.',
    ]),
    section(2, 'Stop items', [stopText(result, cite)]),
    ...momentSections(result.checklist, cite),
    ...okSection(result.checklist, cite),
    cite.section(),
    ...(isPart ? [] : [provenanceSection(result)]),
    cautionsSection(result),
  ]);
}

function countText(result: Checklisted): string {
  const counts = LEVELS.map((level) => {
    const n =
      level === 'stop'
        ? stopLines(result, new Citations()).length
        : result.checklist.filter((item) => item.level === level).length;
    return `${n} ${level.toUpperCase()}`;
  });
  return `Items: ${counts.join(', ')}.`;
}

/** The stop items, and the stop-level findings that no item covers. */
function stopLines(result: Checklisted, cite: Citations): string[] {
  const items = result.checklist.filter((item) => item.level === 'stop').map((item) => itemText(item, cite));
  const pressure = result.pulmonary_pressure?.text;
  const isToldByItem = (text: string): boolean =>
    pressure !== undefined &&
    text.includes(pressure) &&
    result.checklist.some(({ level, because }) => level === 'stop' && because.includes(pressure));
  const findings = result.findings
    .filter(({ level, where, text }) => level === 'stop' && where !== 'checklist' && !isToldByItem(text))
    .map(
      (finding) =>
        `[ ] **STOP** Settle the finding on ${markdownText(finding.where)}: ${cite.clause(finding.text)}`,
    );
  return [...items, ...findings];
}

function stopText(result: Checklisted, cite: Citations): string {
  const lines = stopLines(result, cite);
  return lines.length > 0
    ? bullets(lines)
    : 'None: no item and no finding of this case is at stop level. Local stop rules still apply.';
}

function momentSections(items: readonly Item[], cite: Citations): string[] {
  if (items.length === 0) {
    return [section(2, 'Items', ['The result contains no checklist item; use the local safety checklist.'])];
  }
  const rest = items.filter((item) => item.level === 'caution' || item.level === 'note');
  const groups: (readonly [Moment | undefined, string])[] = [
    ...(Object.entries(MOMENTS) as [Moment, string][]),
    [undefined, 'At any moment'],
  ];
  return groups.flatMap(([moment, heading]) => {
    const own = rest.filter((item) => item.moment === moment);
    const stops = items.filter((item) => item.level === 'stop' && item.moment === moment).length;
    if (own.length + stops === 0) return [];
    const lines = LEVELS.flatMap((level) => own.filter((item) => item.level === level)).map((item) =>
      itemText(item, cite),
    );
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

/** Items for which the case data raise no concern, as one list. */
function okSection(items: readonly Item[], cite: Citations): string[] {
  const ok = items.filter((item) => item.level === 'ok');
  if (ok.length === 0) return [];
  return [
    section(2, 'No concern in the data of this case', [
      'Confirm at the bedside.',
      bullets(
        ok.map(
          (item) =>
            `[ ] **OK** ${cite.sentence(item.text)} ${cite.sentence(item.because)} ${cite.mark(item.source)}`,
        ),
      ),
    ]),
  ];
}

function itemText(item: Item, cite: Citations): string {
  const moment = item.level === 'stop' && item.moment ? ` (${item.moment})` : '';
  return `[ ] **${item.level.toUpperCase()}**${moment} ${cite.sentence(item.text)} Why: ${cite.clause(item.because)} ${cite.mark(item.source)}`;
}
