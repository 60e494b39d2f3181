/** Figures, assumptions and findings of plan.md. */
import type { Result } from '../result/result.generated.js';
import type { FigureLink } from './figures/figures.js';
import type { Citations } from './citations.js';
import { bullets, markdownText, section, sentence } from './markdown.js';
import { entryOf, KINDS, type Kind } from './words.js';

/** An input for the legend that is not in the result, such as haemoglobin or PaO2. */
export interface ReportedValue {
  /** What it is, for example `Haemoglobin`. */
  what: string;
  /** The number with its unit, as text, for example `15.0 g/dL`. */
  value: string;
  kind: Kind;
  /** A source key, or where it was read. */
  source?: string;
}

/**
 * The figures as images; the files are in `figures/` next to plan.md. The alternative text is the title only, because each figure contains
 * its full description.
 */
export function figureSection(figures: readonly FigureLink[]): string {
  if (figures.length === 0) {
    return section(2, 'Figures', [
      'None: the result holds neither a calibre profile nor a shunt, a closure or dates to draw.',
    ]);
  }
  return section(2, 'Figures', figures.map(imageOf));
}

const imageOf = ({ alt, name }: FigureLink): string =>
  `![${markdownText(titleOf(alt))}](figures/${encodeURIComponent(name)})`;

/** Pictures of the scan, and the numbers of feeders and missed pieces that are not drawn. */
export interface ScanPictureLinks {
  figures: readonly FigureLink[];
  leftOut: { feeders: number; missed: number };
}

/** The pictures of the scan, with what to look for; empty if there are none. */
export function scanPictureSection(scan: ScanPictureLinks | undefined): string[] {
  if (!scan || scan.figures.length === 0) return [];
  const { feeders, missed } = scan.leftOut;
  const rest = [
    ...(feeders > 0 ? [`${feeders} thinner ${feeders === 1 ? 'feeder' : 'feeders'}`] : []),
    ...(missed > 0 ? [`${missed} thinner missed ${missed === 1 ? 'piece' : 'pieces'}`] : []),
  ];
  return [
    section(2, 'The surfaces in the scan', [
      'Look at each picture before the plan is used. The full line is the surface that everything was measured on; the broken line, where there is one, is the wall that the scan shows. Where they part, or where a bright vessel joins the lesion outside of every line, correct the segmentation and plan again. The pictures show what was segmented and what lies beside it; they do not take the place of the whole series.',
      ...(rest.length > 0 ? [`Not drawn: ${rest.join(' and ')}.`] : []),
      ...scan.figures.map(imageOf),
    ]),
  ];
}

/** The first statement of a description, without the details that the figure shows. */
const titleOf = (alt: string): string =>
  alt
    .split(/[:.,] /)[0]
    .replace(/\.$/, '')
    .replace(/ \(.*$| along its centreline$/, '');

/** Every assumption once, and the stated and measured inputs that were passed in. */
export function assumedSection(result: Result, values: readonly ReportedValue[], cite: Citations): string {
  const assumed = [
    ...new Set([
      ...(result.shunt?.assumed ?? []),
      ...(result.shunt_after?.assumed ?? []),
      ...result.closure.flatMap((step) => step.assumed ?? []),
    ]),
  ];
  const inputs = (Object.keys(KINDS) as Kind[]).flatMap((kind) => {
    const own = values.filter((value) => value.kind === kind);
    const texts = own.map(({ what, value, source }) => {
      const from = source ? ` ${cite.mark(source)}` : '';
      return `${markdownText(what)} ${markdownText(value)}${from}`;
    });
    return own.length > 0
      ? [`${sentence(KINDS[kind].word).slice(0, -1)} ${KINDS[kind].mark}: ${texts.join('; ')}.`]
      : [];
  });
  return section(2, 'Assumed and given', [
    assumed.length > 0
      ? `Assumed ${KINDS.assumed.mark}: ${assumed.map((text) => cite.marked(markdownText(text))).join('; ')}.`
      : 'The result lists no assumption.',
    ...inputs,
  ]);
}

const LEVEL_ORDER = ['caution', 'note'] as const;

/** Notes whose numbers are in a table or list of the sections above. */
const TOLD_ABOVE: Readonly<Record<string, (result: Result, where: string) => boolean>> = {
  'closure-order': ({ closure_order: order }) => (order?.length ?? 0) > 1,
  'missed-feeder': ({ closure, vessels }, where) => {
    const feeders = Object.values(vessels).filter(({ role }) => role === 'feeder').length;
    return closure.some(
      ({ closed, shunt_fraction: left }) =>
        left !== undefined && closed !== 'lobe' && closed.length === feeders - 1 && !closed.includes(where),
    );
  },
  'no-device-fits': ({ devices }, where) => entryOf(devices, where)?.absent_because !== undefined,
  'landing-zone-absent': ({ vessels }, where) =>
    entryOf(vessels, where)?.landing_absent_because !== undefined,
};

/** Cautions, then notes, without those already stated in the sections above. */
export function findingSection(result: Result, cite: Citations, above: string): string {
  if (result.findings.length === 0) {
    return section(2, 'Findings', [
      'None: nothing in the case, the surfaces or the numbers was found that needs a remark.',
    ]);
  }
  const isTold = ({ id, where, text }: Result['findings'][number]): boolean =>
    TOLD_ABOVE[id]?.(result, where) ||
    above.includes(cite.clause(text)) ||
    above.includes(cite.sentence(text));
  const lines = LEVEL_ORDER.flatMap((level) =>
    result.findings
      .filter((finding) => finding.level === level && !isTold(finding))
      .map(
        ({ where, text, id }) =>
          // a text that begins with its place does not need the place again
          `**${level.toUpperCase()}** ${text.startsWith(`${where} `) ? '' : `${markdownText(where)}: `}${cite.clause(text)} (${markdownText(id)})`,
      ),
  );
  return section(2, 'Findings', [
    result.findings.some(({ level }) => level === 'stop') ? 'The stops are in the summary.' : undefined,
    lines.length > 0 ? bullets([...new Set(lines)]) : 'Each is in the sections above.',
  ]);
}
