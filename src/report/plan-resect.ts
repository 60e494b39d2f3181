/** Plan B (resect) of plan.md: what to keep, the steps, expected lung function. */
import { fixed } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, numbered, section, sentence, table } from './markdown.js';
import { type Interval, KINDS, quantity } from './words.js';

/** The resection: branches to spare with distances, steps with what comes into view, expected lung function, leak test. */
export function planBSection(result: Result, cite: Citations): string {
  const { resection } = result;
  if (!resection) {
    return section(2, 'Plan B: resect', ['Not worked out: the result contains no resection; see Findings.']);
  }
  const what = resection.procedure ?? (resection.lobe ? `Resection of the ${resection.lobe}` : undefined);
  return section(2, 'Plan B: resect', [
    what ? `**${sentence(what)}**` : undefined,
    resection.absent_because ? `Not worked out in full: ${clause(resection.absent_because)}` : undefined,
    section(3, 'To keep', [spareText(resection.spare), stakeText(resection.at_stake, cite)]),
    section(3, 'Steps', [
      resection.steps.length > 0
        ? numbered(resection.steps.map((step) => stepText(step, cite)))
        : `No steps: ${clause(resection.absent_because ?? 'the result gives no reason')}`,
    ]),
    functionSection(resection, what, cite),
    resection.margin?.length ? section(3, 'Margin', [bullets(resection.margin.map(sentence))]) : undefined,
    resection.steps.some(({ stage }) => stage === 'leak test') ? undefined : leakText(resection),
  ]);
}

type Resection = NonNullable<Result['resection']>;

function spareText(spare: Resection['spare']): string {
  if (spare.length === 0) {
    return 'No branch is marked: look for branches to the remaining lung on the source images.';
  }
  return table(
    ['Branch', 'Supplies', 'Distance to the line of division', 'Line of division'],
    spare.map((branch) => [
      `**${markdownText(branch.name)}**`,
      branch.supplies ? markdownText(branch.supplies) : 'not stated',
      branch.to_division_mm !== undefined
        ? quantity(branch.to_division_mm, 1, 'mm', 'measured')
        : `not known: ${clause(branch.to_division_absent_because ?? 'the result gives no reason')}`,
      branch.division ? markdownText(branch.division) : 'not stated',
    ]),
  );
}

function stakeText(stake: Resection['at_stake'], cite: Citations): string | undefined {
  if (!stake?.length) return undefined;
  return `By anatomy:\n\n${bullets(
    stake.map((one) => `**${markdownText(one.name)}**: ${clause(one.text)} ${cite.mark(one.source)}`),
  )}`;
}

function stepText(step: Resection['steps'][number], cite: Citations): string {
  const see = step.see ? ` In view: ${clause(step.see)}` : '';
  return `**${markdownText(step.stage)}**: ${clause(step.text)}${see} ${cite.mark(step.source)}`;
}

type Offer = NonNullable<Resection['lung_sparing']>;
type Predicted = Pick<
  Resection,
  | 'predicted_fev1_l'
  | 'predicted_fev1_percent'
  | 'predicted_fev1_percent_interval'
  | 'predicted_dlco_percent'
  | 'predicted_dlco_percent_interval'
>;

/** Lung function after plan B and, if offered, after resecting the segments alone. */
function functionSection(resection: Resection, what: string | undefined, cite: Citations): string {
  const offer = resection.lung_sparing;
  const rows = [
    functionRow(what ?? 'Plan B', resection),
    ...(offer?.segments ? [functionRow(`Segments ${offer.segments.join(', ')} alone`, offer)] : []),
  ].filter((row) => row !== undefined);
  const because =
    resection.predicted_because ?? 'Not computed: the case gives no spirometry, or the lobe is not known';
  return section(3, 'Expected lung function', [
    rows.length > 0
      ? table(['After (d)', 'FEV1, L', 'FEV1, % of predicted', 'DLCO, % of predicted'], rows)
      : undefined,
    [cite.sentence(because), resection.predicted_reading ? cite.sentence(resection.predicted_reading) : '']
      .filter((text) => text !== '')
      .join(' '),
    offerText(offer, resection, cite),
  ]);
}

/** One row of the table; undefined if nothing is predicted. */
function functionRow(what: string, predicted: Predicted): string[] | undefined {
  const { predicted_fev1_l: litres, predicted_fev1_percent: fev1, predicted_dlco_percent: dlco } = predicted;
  if (litres === undefined && fev1 === undefined && dlco === undefined) return undefined;
  const cell = (value: number | undefined, interval: Interval | undefined): string =>
    value === undefined
      ? 'not computed'
      : `${fixed(value, 1)} (${interval ? `${fixed(interval[0], 1)}–${fixed(interval[1], 1)}` : 'no interval'})`;
  return [
    sentence(what).replace(/\.$/, ''),
    litres === undefined ? 'not computed' : fixed(litres, 2),
    cell(fev1, predicted.predicted_fev1_percent_interval),
    cell(dlco, predicted.predicted_dlco_percent_interval),
  ];
}

/** Segments alone instead of the lobe: why, and how their reading differs from that of the lobe. */
function offerText(offer: Offer | undefined, lobe: Resection, cite: Citations): string | undefined {
  if (!offer) return undefined;
  const why = offer.because.map((text) => cite.marked(markdownText(text))).join('; ');
  if (offer.absent_because)
    return `**Sparing lung** would help (${why}), but cannot be worked out: ${clause(offer.absent_because)}`;
  const told = new Set(sentencesOf(lobe));
  const own = sentencesOf(offer).filter((text) => !told.has(text));
  return `**Sparing lung**: discuss segments ${markdownText((offer.segments ?? []).join(', '))} alone (${why}). ${cite.sentence(own.join(' '))} Plan it by surgery.extent: segments.`;
}

/** Reason and reading of a prediction, sentence by sentence. */
const sentencesOf = ({
  predicted_because: because,
  predicted_reading: reading,
}: Offer | Resection): string[] =>
  [because, reading]
    .filter((text) => text !== undefined)
    .flatMap((text) => text.split(/(?<=\.) (?=[A-Z\d])/));

function leakText(resection: Resection): string | undefined {
  const test = resection.leak_test;
  if (!test) return undefined;
  const note = test.note ? ` ${sentence(test.note)}` : '';
  return section(3, 'Leak test', [
    `Airway pressure ${fixed(test.cmh2o, 0)} cmH2O ${KINDS.stated.mark}, which is ${fixed(test.mmhg, 1)} mmHg ${KINDS.derived.mark}.${note}`,
  ]);
}
