import { rangeText } from '../foundation/number-text.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { Result } from '../result/result.generated.js';
import { Citations } from './citations.js';
import { purposeBanner, todayText } from './closing.js';
import { bullets, document, markdownText, section } from './markdown.js';
import { devicePhrase, entryOf, KINDS, lobeText, quantity, trimmed, viewText } from './words.js';

type Urgent = NonNullable<Result['urgent']>;

/** Greatest number of feeders with separate lines; the page has at most 60 lines. */
const MOST_FEEDERS = 12;

/** Steps that come after the feeders, in this order; all others come before them. */
const AFTER_FEEDERS: readonly string[] = [
  'urgent-balloon',
  'urgent-systemic',
  'urgent-operation',
  'urgent-blood',
  'urgent-anticoagulated',
  'urgent-anticoagulant-unknown',
  'urgent-tranexamic',
  'urgent-pregnant',
  'urgent-pregnancy-unknown',
  'urgent-air',
  'urgent-stroke',
];

/**
 * Writes urgent.md: one page of at most 60 lines for use during a bleed, headed BLEEDING or STANDBY. Undefined if the result holds no
 * urgent plan. Text from the case is escaped. Same result, same bytes.
 */
export function renderUrgent(result: Result): string | undefined {
  const { urgent } = result;
  if (urgent === undefined) return undefined;
  const cite = new Citations();
  const step = ({ text, source }: Urgent['steps'][number]): string =>
    `${cite.sentence(text).replace(/^([A-Z][a-z ]{2,24}):/, '**$1**:')} ${cite.mark(source)}`;
  const before = urgent.steps.filter(({ id }) => !AFTER_FEEDERS.includes(id));
  const after = urgent.steps.filter(({ id }) => AFTER_FEEDERS.includes(id));
  const lines = [
    whereLine(result),
    callLine(urgent),
    ...before.map(step),
    ...feederLines(result, urgent),
    spareLine(result),
    `**Clamp**: ${cite.sentence(urgent.clamp_site)}`,
    ...after.map(step),
  ];
  const state = urgent.state === 'bleeding' ? 'BLEEDING' : 'STANDBY';
  return document([
    section(1, `${state}: ${lobeText(result.lesion)}`, [datesLine(result, urgent), purposeBanner(result)]),
    bullets(lines),
    section(2, 'Sources and cautions', [cite.line(), STANDING_CAUTIONS.map(markdownText).join(' ')]),
  ]);
}

function datesLine(result: Result, urgent: Urgent): string {
  const scan = result.scan_date === undefined ? 'date not stated' : markdownText(result.scan_date);
  const stock = urgent.stock_as_of === undefined ? 'no shelf' : `as of ${markdownText(urgent.stock_as_of)}`;
  const standby =
    urgent.state === 'bleeding' ? '' : ' No bleed is stated; this page is for the hour that one begins.';
  return `Case ${markdownText(result.case)}. CT: ${scan}. Stock: ${stock}. Today: ${todayText(result)}.${standby}`;
}

function whereLine({ lesion }: Result): string {
  const segments = lesion.segments?.length ? ` (${lesion.segments.map(markdownText).join(', ')})` : '';
  const treated =
    lesion.treated === undefined ? 'no earlier treatment stated' : `treated ${markdownText(lesion.treated)}`;
  const others = lesion.other_lesions === undefined ? 'not stated' : markdownText(lesion.other_lesions);
  return `**Where**: ${lobeText(lesion)}${segments}; ${treated}; other lesions: ${others}.`;
}

function callLine({ call }: Urgent): string {
  const who = call.map(
    ({ role, contact }) =>
      `${markdownText(role.replaceAll('_', ' '))} ${contact === undefined ? '**not stated**' : markdownText(contact)}`,
  );
  return `**Call**: ${who.join('; ')}.`;
}

export function feederLines(result: Result, urgent: Urgent): string[] {
  if (urgent.feeders.length === 0) return ['**Feeders**: none was measured; use the source images.'];
  const lines = urgent.feeders.slice(0, MOST_FEEDERS).map((feeder) => feederLine(result, feeder));
  const rest = urgent.feeders.slice(MOST_FEEDERS).map(({ name }) => markdownText(name));
  return rest.length > 0 ? [...lines, `Further feeders: ${rest.join(', ')}; see plan.md.`] : lines;
}

function feederLine(result: Result, feeder: Urgent['feeders'][number]): string {
  const name = `**${markdownText(feeder.name)}**`;
  const device = entryOf(result.devices, feeder.name);
  const code = feeder.device_code;
  const planned = device?.code === code ? device : undefined;
  const phrase = planned && devicePhrase(planned);
  const lumen =
    planned?.needs_lumen_mm === undefined
      ? ''
      : `, catheter lumen ${trimmed(planned.needs_lumen_mm)} mm ${KINDS.stated.mark}`;
  const close =
    code === null
      ? 'device in stock: **NONE**'
      : `device in stock: ${phrase ?? `code ${markdownText(code)}`}${lumen}`;
  const spare = device?.alternates.find((other) => other.on_shelf && other.code !== code);
  const spareText = spare === undefined ? 'no spare in stock' : `spare ${markdownText(spare.code)}`;
  if (feeder.calibre_mm === undefined) return `${name}: no landing zone was measured; ${close}.`;
  const interval = feeder.calibre_interval_mm ? ` (${rangeText(feeder.calibre_interval_mm, 1, 'mm')})` : '';
  const zone =
    feeder.landing_length_mm === undefined
      ? ''
      : `, landing zone ${quantity(feeder.landing_length_mm, 1, 'mm', 'measured')}`;
  const balloon = feeder.balloon_mm
    ? `; balloon ${rangeText(feeder.balloon_mm, 1, 'mm')} ${KINDS.derived.mark}`
    : '';
  const view = entryOf(result.vessels, feeder.name)?.landing?.view;
  return `${name}: calibre ${quantity(feeder.calibre_mm, 1, 'mm', 'measured')}${interval}${zone}; ${close}; ${spareText}${balloon}${view ? `; view ${viewText(view)}` : ''}.`;
}

function spareLine(result: Result): string {
  const spare = result.resection?.spare ?? [];
  const names = spare.map(
    (branch) =>
      `${markdownText(branch.name)}${branch.supplies ? ` (supplies ${markdownText(branch.supplies)})` : ''}`,
  );
  const anatomy = (result.resection?.at_stake ?? []).map(({ name }) => markdownText(name));
  const marked = names.length > 0 ? names.join(', ') : 'no branch is marked';
  return `**Spare**: ${marked}${anatomy.length > 0 ? `; by anatomy ${anatomy.join(', ')}` : ''}.`;
}
