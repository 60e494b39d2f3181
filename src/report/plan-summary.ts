/** The top of plan.md: everything a reader needs in one minute. */
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Result, Shunt } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, numbered, section, sentence, table } from './markdown.js';
import {
  counted,
  devicePhrase,
  entryOf,
  cellEstimate,
  KINDS,
  lobeText,
  noFeederText,
  quantity,
  ROLE_WORDS,
  shuntEstimate,
  targetNames,
} from './words.js';

const RECOMMENDED: Record<Result['readiness']['recommended'], string> = {
  embolise: 'Plan A: embolise',
  resect: 'Plan B: resect',
  discuss: 'Discuss in the team before choosing',
};

/** Greatest number of reasons on the first page; the others are under Readiness. */
export const FIRST_REASONS = 3;

/** The first page: advice and reasons, stops, lesion and shunt, each vessel with its device, both plans. */
export function summarySection(result: Result, cite: Citations): string {
  const { readiness } = result;
  const reasons = readiness.because.slice(0, FIRST_REASONS).map((text) => cite.sentence(text));
  const more = readiness.because.length - reasons.length;
  const answers = bullets(
    [
      ['Lesion', lesionAnswer(result)],
      ['Shunt', shuntAnswer(result)],
      ['Plan A (embolise)', readyAnswer(readiness.plan_a)],
      ['Plan B (resect)', readyAnswer(readiness.plan_b)],
      ['To spare in plan B', spareAnswer(result)],
    ].map(([label, answer]) => `**${label}**: ${answer}`),
  );
  const names = targetNames(result);
  const vessels =
    names.length > 0
      ? targetTable(names.map((name) => targetRow(result, name)))
      : sentence(`${noFeederText(result)}, so no calibre and no device can be named`);
  return section(2, 'Summary', [
    `**Advice: ${RECOMMENDED[readiness.recommended]}.**`,
    reasons.length > 0 ? numbered(reasons) : 'The result gives no reason.',
    more > 0 ? `${counted(more, 'further reason')} under Readiness.` : undefined,
    stops(result, cite, readiness.because.slice(0, FIRST_REASONS)),
    answers,
    vessels,
    'Marks: (m) measured, (d) derived, (a) assumed, (s) stated; [cp] common practice.',
  ]);
}

/**
 * Stop-level findings and the stop items of the checklist, each matter once: findings that only repeat an item are left out, and so are
 * items on a pressure that a finding already covers.
 */
export function stopsOf(result: Pick<Result, 'findings' | 'checklist' | 'pulmonary_pressure'>): {
  found: Result['findings'];
  items: Result['checklist'];
} {
  const pressure = result.pulmonary_pressure?.text;
  const found = result.findings.filter(({ level, where }) => level === 'stop' && where !== 'checklist');
  const items = result.checklist.filter(
    ({ level, because }) =>
      level === 'stop' &&
      !(pressure && because.includes(pressure) && found.some(({ text }) => text.includes(pressure))),
  );
  return { found, items };
}

/** Every stop once; if a reason above already says it in full, a reference to that reason. */
function stops(result: Result, cite: Citations, reasons: readonly string[]): string {
  const short = (text: string): string => {
    const i = reasons.findIndex((reason) => text.includes(reason));
    if (i >= 0) return text.replace(reasons[i], `see reason ${i + 1}.`);
    const pressure = result.pulmonary_pressure?.text;
    const told = pressure === undefined ? -1 : reasons.findIndex((reason) => reason.includes(pressure));
    return pressure === undefined || told < 0
      ? text
      : text.replace(pressure, `Numbers as in reason ${told + 1}`);
  };
  const { found, items } = stopsOf(result);
  const lines = [
    ...found.map((finding) => `**STOP** ${markdownText(finding.where)}: ${cite.clause(short(finding.text))}`),
    ...items.map((item) => `**STOP** ${cite.sentence(item.text)} ${cite.sentence(item.because)}`),
  ];
  return lines.length > 0 ? bullets([...new Set(lines)]) : 'Nothing stops this plan.';
}

function lesionAnswer(result: Result): string {
  const { lesion, sac } = result;
  const parts = [
    `${lobeText(result.lesion)}${lesion.segments?.length ? ` (${lesion.segments.map(markdownText).join(', ')})` : ''}`,
    lesion.kind ? `${lesion.kind} lesion` : undefined,
    lesion.feeder_count !== undefined
      ? lesion.feeder_count === 0 && lesion.treated !== undefined
        ? 'no open feeding artery'
        : counted(lesion.feeder_count, 'feeding artery', 'feeding arteries')
      : undefined,
    lesion.drain_count !== undefined ? counted(lesion.drain_count, 'draining vein') : undefined,
    sac ? `sac ${quantity(sac.volume_ml, 2, 'mL', 'measured')}` : 'sac not measured',
  ];
  return sentence1(parts.filter((part) => part !== undefined).join('; '));
}

const sentence1 = (text: string): string => `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;

function shuntAnswer(result: Result): string {
  const { shunt, shunt_after: later } = result;
  const after = later?.fraction === undefined ? '' : `After treatment ${shuntEstimate(later)}.`;
  if (result.baseline !== 'after') return `${shuntBefore(shunt, after !== '')}${after && ` ${after}`}`;
  const before = shunt?.fraction === undefined ? '' : ` Before it ${shuntEstimate(shunt)}.`;
  if (later?.fraction === undefined) return `After treatment: ${shuntBefore(later, false)}${before}`;
  return `After treatment ${shuntEstimate(later)} of cardiac output; the plan depends on it.${lessCertain(later)}${before}`;
}

function shuntBefore(shunt: Result['shunt'], isTreated: boolean): string {
  if (!shunt)
    return `Not computed${isTreated ? ' for the time before treatment' : ''}: no arterial sample that a shunt can be computed from.`;
  if (shunt.fraction === undefined)
    return `Not computed: ${clause(shunt.absent_because ?? 'the result gives no reason')}`;
  return `${shuntEstimate(shunt)} of cardiac output.${lessCertain(shunt)}`;
}

const lessCertain = (shunt: Shunt): string =>
  shunt.method === 'room-air' ? ' Less certain: the sample was not taken on 100 % oxygen.' : '';

function spareAnswer(result: Result): string {
  const stake = result.resection?.at_stake ?? [];
  const also = stake.length > 0 ? ` ${counted(stake.length, 'structure')} to keep by anatomy.` : '';
  return `${markedToSpare(result)}${also}`;
}

function markedToSpare(result: Result): string {
  const spare = result.resection?.spare ?? [];
  if (spare.length > 0) {
    return spare
      .map((branch) => {
        const supplies = branch.supplies ? ` (supplies ${markdownText(branch.supplies)})` : '';
        const away =
          branch.to_division_mm !== undefined
            ? `, ${quantity(branch.to_division_mm, 1, 'mm', 'measured')} from the line of division`
            : `, distance to the line of division not known`;
        return `**${markdownText(branch.name)}**${supplies}${away}.`;
      })
      .join(' ');
  }
  const marked = Object.entries(result.vessels).filter(([, vessel]) => vessel.spare);
  if (marked.length > 0) {
    return `${marked.map(([name]) => `**${markdownText(name)}**`).join(', ')}; distance to the line of division not known.`;
  }
  return 'No branch is marked.';
}

function readyAnswer(ready: Result['readiness']['plan_a']): string {
  const date =
    ready.ready_by !== undefined
      ? `Ready by ${markdownText(ready.ready_by)}.`
      : ready.ready_by_absent_because !== undefined
        ? `No date: ${clause(ready.ready_by_absent_because)}`
        : 'No date can be given.';
  const unknown = ready.unknown?.length ? ` To confirm: ${ready.unknown.map(markdownText).join('; ')}.` : '';
  if (!ready.ready_today && ready.missing.length === 0 && unknown)
    return `**Not ready until confirmed.**${unknown}`;
  if (ready.ready_today && ready.missing.length === 0)
    return unknown ? `**Ready once confirmed.**${unknown}` : '**Ready today.**';
  const missing =
    ready.missing.length > 0 ? `${ready.missing.map(sentence).join(' ')}` : 'Nothing named as missing.';
  return `${ready.ready_today ? '**Ready today**, without:' : '**Not ready.**'} ${missing}${ready.ready_today ? '' : ` ${date}`}${unknown}`;
}

/** One row for each vessel to close; a single vessel as a sentence. */
function targetTable(rows: string[][]): string {
  if (rows.length > 1)
    return table(
      ['Vessel to close', 'Landing calibre (95 % interval)', 'Device', 'Oversize', 'On the shelf'],
      rows,
    );
  const [name, calibre, device, oversize, shelf] = rows[0];
  const chosen =
    shelf === 'no device' ? [device] : [device, `oversize ${oversize}`, `on the shelf: ${shelf}`];
  return `To close ${name}: ${[`landing calibre ${calibre}`, ...chosen].join('; ')}.`;
}

function targetRow(result: Result, name: string): string[] {
  const vessel = entryOf(result.vessels, name);
  const device = entryOf(result.devices, name);
  const landing = vessel?.landing;
  const role = vessel ? ` (${ROLE_WORDS[vessel.role]})` : '';
  const isSystemic = vessel?.role === 'systemic-feeder';
  return [
    `**${markdownText(name)}**${role}`,
    landing
      ? cellEstimate(landing.calibre_mm, landing.calibre_interval_mm, 1, 'mm', 'measured')
      : isSystemic
        ? `no landing zone is looked for; mean calibre ${quantity(vessel.calibre_mm.mean, 1, 'mm', 'measured')}`
        : `No landing zone: ${clause(vessel?.landing_absent_because ?? 'the result gives no reason')}`,
    (device && devicePhrase(device)) ??
      (device
        ? '**no device chosen**, see Plan A'
        : isSystemic
          ? 'none planned: the team decides'
          : 'None chosen: the result contains no device for this vessel.'),
    oversizeCell(device),
    shelfCell(device),
  ];
}

function oversizeCell(device: Result['devices'][string] | undefined): string {
  if (device?.oversize_percent === undefined) return 'not computed';
  const range = device.oversize_interval_percent
    ? ` (${rangeText(device.oversize_interval_percent, 1, '%')})`
    : '';
  const border = device.borderline ? ', borderline' : '';
  return `${fixed(device.oversize_percent, 1)} %${range} ${KINDS.derived.mark}${border}`;
}

/** Whether the device is on the shelf, or when it can be there. */
export function shelfCell(device: Result['devices'][string] | undefined): string {
  if (!device || (device.code === undefined && device.kind === undefined)) return 'no device';
  if (device.on_shelf === undefined) return 'not known';
  if (device.on_shelf) return 'yes';
  return device.ready_by ? `no; by ${markdownText(device.ready_by)}` : 'no; lead time not known';
}
