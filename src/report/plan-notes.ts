/** Figures, assumptions and findings of plan.md. */
import type { Result } from '../result/result.generated.js';
import type { FigureLink } from './figures/figures.js';
import type { Citations } from './citations.js';
import { bullets, markdownText, section } from './markdown.js';
import { KINDS, type Kind } from './words.js';

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

/**
 * The figures as images; the files stand in `figures/` beside plan.md. The alternative text is their title: each figure carries its
 * whole description itself.
 */
export function figureSection(figures: readonly FigureLink[]): string {
  if (figures.length === 0) {
    return section(2, 'Figures', [
      'None: the result holds neither a calibre profile nor a shunt, a closure or dates to draw.',
    ]);
  }
  return section(2, 'Figures', [
    ...figures.map(
      (figure) => `![${markdownText(titleOf(figure.alt))}](figures/${encodeURIComponent(figure.name)})`,
    ),
    'Colours by Okabe and Ito (Color Universal Design, 2008); every series is also told apart by line, hatch or label.',
  ]);
}

/** The first statement of a description. */
const titleOf = (alt: string): string => alt.split(/[:.,] /)[0].replace(/\.$/, '');

/** Every assumption once, and the stated and measured inputs that were handed over. */
export function assumedSection(result: Result, values: readonly ReportedValue[], cite: Citations): string {
  const assumed = [
    ...new Set([
      ...(result.shunt?.assumed ?? []),
      ...(result.shunt_after?.assumed ?? []),
      ...result.closure.flatMap((step) => step.assumed ?? []),
    ]),
  ];
  const inputs = values.map((value) => {
    const from = value.source ? ` ${cite.mark(value.source)}` : '';
    return `${markdownText(value.what)} ${markdownText(value.value)} ${KINDS[value.kind].mark}${from}`;
  });
  return section(2, 'Assumed and given', [
    assumed.length > 0
      ? `Assumed ${KINDS.assumed.mark}: ${assumed.map((text) => cite.marked(markdownText(text))).join('; ')}.`
      : 'The result lists no assumption.',
    inputs.length > 0 ? `Given in the case: ${inputs.join('; ')}.` : undefined,
  ]);
}

const LEVEL_ORDER = ['stop', 'caution', 'note'] as const;

/** Every finding, the stop level first; what stands in full in the sections above is referred to. */
export function findingSection(result: Result, cite: Citations, above: string): string {
  if (result.findings.length === 0) {
    return section(2, 'Findings', [
      'None: nothing in the case, the surfaces or the numbers was found that needs a remark.',
    ]);
  }
  const lines = LEVEL_ORDER.flatMap((level) =>
    result.findings
      .filter((finding) => finding.level === level)
      .map((finding) => {
        const full = cite.clause(finding.text);
        const isAbove = above.includes(full) || above.includes(cite.sentence(finding.text));
        const text = level === 'stop' ? 'see Summary' : isAbove ? 'see above' : full;
        return `**${level.toUpperCase()}** ${markdownText(finding.where)}: ${text} (${markdownText(finding.id)})`;
      }),
  );
  return section(2, 'Findings', [bullets([...new Set(lines)])]);
}
