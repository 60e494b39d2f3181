/** Figures, legend of marks and findings of plan.md. */
import type { Result } from '../result/result.generated.js';
import type { FigureLink } from './figures/figures.js';
import { bullets, clause, markdownText, section, sentence, table } from './markdown.js';
import { KINDS, type Kind, sourceText } from './words.js';

/** An input that the result itself does not carry, for the legend: for example haemoglobin or PaO2. */
export interface ReportedValue {
  /** What it is, for example `Haemoglobin`. */
  what: string;
  /** The number with its unit, as text, for example `15.0 g/dL`. */
  value: string;
  kind: Kind;
  /** Key of the sources, or where it was read. */
  source?: string;
}

/** The figures as images with alternative text; the files stand in `figures/` beside plan.md. */
export function figureSection(figures: readonly FigureLink[]): string {
  if (figures.length === 0) {
    return section(2, 'Figures', [
      'None: the result holds neither a calibre profile nor a shunt, a closure or dates to draw.',
    ]);
  }
  return section(2, 'Figures', [
    ...figures.map((figure) => `![${markdownText(figure.alt)}](figures/${encodeURIComponent(figure.name)})`),
    'Colours by Okabe and Ito (Color Universal Design, 2008); every series is also told apart by line, hatch or label.',
  ]);
}

/** What each mark means, every assumption, and the stated inputs that were handed over. */
export function legendSection(result: Result, values: readonly ReportedValue[]): string {
  const marks = table(
    ['Mark', 'Meaning'],
    Object.values(KINDS).map(({ mark, meaning }) => [mark, clause(meaning)]),
  );
  const assumed = [
    ...new Set([
      ...(result.shunt?.assumed ?? []),
      ...(result.shunt_after?.assumed ?? []),
      ...result.closure.flatMap((step) => step.assumed ?? []),
    ]),
  ];
  return section(2, 'Measured, assumed, derived', [
    marks,
    'Counts, dates and codes carry no mark.',
    assumed.length > 0
      ? `Everything assumed in this plan:\n\n${bullets(assumed.map(sentence))}`
      : 'The result lists no assumption.',
    values.length > 0
      ? `Values the numbers rest on:\n\n${table(
          ['Value', 'Number', 'Mark', 'Source'],
          values.map((value) => [
            markdownText(value.what),
            markdownText(value.value),
            KINDS[value.kind].mark,
            value.source ? sourceText(value.source) : 'case file',
          ]),
        )}`
      : undefined,
  ]);
}

const LEVEL_ORDER = ['stop', 'caution', 'note'] as const;

/** Every finding, the stop level first. */
export function findingSection(result: Result): string {
  if (result.findings.length === 0) {
    return section(2, 'Findings', [
      'None: nothing in the case, the surfaces or the numbers was found that needs a remark.',
    ]);
  }
  const rows = LEVEL_ORDER.flatMap((level) =>
    result.findings
      .filter((finding) => finding.level === level)
      .map((finding) => [
        `**${level.toUpperCase()}**`,
        markdownText(finding.where),
        sentence(finding.text),
        markdownText(finding.id),
      ]),
  );
  return section(2, 'Findings', [table(['Level', 'Where', 'What was found', 'Id'], rows)]);
}
