import { fixed, rangeText } from '../../foundation/number-text.js';
import type { PatientFacts } from '../../patient/patient-facts.js';
import type { PatientLesion, PatientResult, Session } from '../../result/patient-result.js';
import type { Result } from '../../result/result.generated.js';
import { Citations } from '../citations.js';
import { cautionsSection, provenanceSection, purposeBanner, todayText } from '../closing.js';
import type { FigureLink } from '../figures/figures.js';
import { bullets, clause, document, markdownText, numbered, section, sentence, table } from '../markdown.js';
import { stopsOf } from '../plan-summary.js';
import { counted, deviceKind, lobeText, shuntEstimate, trimmed } from '../words.js';
import { closingOf } from './patient-closing.js';

/** Input of patient.md other than the result. */
export interface PatientPlanExtras {
  facts: PatientFacts;
  /** Results of the lesions, by id. */
  plans: Readonly<Record<string, Result>>;
  figures: readonly FigureLink[];
}

const RECOMMENDED: Record<PatientResult['advice']['recommended'], string> = {
  embolise: 'Embolise, in the sessions below',
  resect: 'Resect',
  both: 'Embolise some lesions and resect others',
  discuss: 'Discuss in the team before choosing',
};

/** Greatest number of reasons on the first page. */
const FIRST_REASONS = 4;

/**
 * Writes patient.md: one page for the team's decision on all lesions of a patient; the plan of each lesion is in lesions/ID/. Nothing is
 * computed; text from the files is escaped. Same result, same bytes.
 */
export function renderPatientPlan(result: PatientResult, extras: PatientPlanExtras): string {
  const cite = new Citations();
  const { facts, plans } = extras;
  const sections = [
    titleBlock(result),
    section(2, 'Summary', [
      bullets([facts.who, facts.hht, facts.question].map((text) => cite.sentence(text))),
      `**Advice: ${RECOMMENDED[result.advice.recommended]}.**`,
      reasons(result, cite),
      stops(result, cite),
    ]),
    lesionSection(result, cite),
    ...pictures(extras.figures),
    notPlannedSection(result, cite),
    section(2, 'Shunt and oxygen', [
      bullets([shuntLine(result), ...facts.oxygen.map((text) => cite.sentence(text))]),
    ]),
    section(2, 'Pressure, liver, heart', [bullets(facts.circulation.map((text) => cite.sentence(text)))]),
    sessionSection(result, cite),
    deviceSection(result),
    planBSection(result, plans, cite),
    section(2, 'Before the first session', [bullets(facts.risks.map((text) => cite.sentence(text)))]),
    forLifeSection(plans, cite),
    unknownSection(facts, result),
    section(2, 'Decision', [
      'Decided, by whom, when:',
      bullets([
        'Sessions as above / other: ____________________',
        ...['Interventionist', 'Surgeon', 'Anaesthesia', 'Referring physician'].map(
          (role) => `${role}: ____________________ Date: __________`,
        ),
      ]),
    ]),
    closureSection(result),
  ];
  const text = sections.join('\n');
  const findings = result.findings.filter(
    ({ level, text: said }) => level !== 'stop' && !text.includes(said),
  );
  sections.push(
    section(2, 'Findings', [
      findings.length > 0
        ? bullets(
            findings.map(
              (one) =>
                `**${one.level.toUpperCase()}** ${markdownText(one.where)}: ${cite.clause(one.text)} (${markdownText(one.id)})`,
            ),
          )
        : 'None beside those above.',
    ]),
  );
  return document([
    ...sections,
    cite.section(),
    provenanceSection(closingOf(result), true),
    cautionsSection(result),
  ]);
}

function titleBlock(result: PatientResult): string {
  const title = result.title ? markdownText(result.title) : `Patient ${markdownText(result.patient)}`;
  const scan = result.scan_date === undefined ? 'date not stated' : markdownText(result.scan_date);
  return section(1, `Patient: ${title}`, [
    `Patient ${markdownText(result.patient)}, ${counted(Object.keys(result.lesions).length, 'lesion')}. CT: ${scan}. Today: ${todayText(result)}.`,
    purposeBanner(result),
    'Marks: (m) measured, (d) derived, (a) assumed, (s) stated; [1] source, [cp] common practice.',
  ]);
}

function reasons({ advice }: PatientResult, cite: Citations): string | undefined {
  if (advice.because.length === 0) return undefined;
  return numbered(advice.because.slice(0, FIRST_REASONS).map((text) => cite.sentence(text)));
}

function stops(result: PatientResult, cite: Citations): string {
  const { found, items } = stopsOf(result);
  const lines = [
    ...found.map((one) => `**STOP** ${markdownText(one.where)}: ${cite.clause(one.text)}`),
    ...items.map((item) => `**STOP** ${cite.sentence(item.text)} ${cite.sentence(item.because)}`),
  ];
  const change =
    result.advice.recommended === 'embolise'
      ? 'A bleed, a raised pressure, a pregnancy, or another lesion on the scan would change the advice.'
      : undefined;
  return [
    lines.length > 0 ? bullets([...new Set(lines)]) : 'No finding and no checklist item stops the plan.',
    ...(change ? [change] : []),
  ].join('\n\n');
}

const lobeOf = ({ side, lobe }: PatientLesion): string =>
  lobeText({ side, lobe } as Parameters<typeof lobeText>[0]);

function lesionSection(result: PatientResult, cite: Citations): string {
  const ids = [...result.order, ...Object.keys(result.lesions).filter((id) => !result.order.includes(id))];
  const rows = ids.map((id) => {
    const one = result.lesions[id];
    const atMost = one.flow_share_is && one.state === 'open' ? 'at most ' : '';
    return [
      `**${markdownText(id)}**`,
      `${lobeOf(one)}${one.segments?.length ? ` (${one.segments.map(markdownText).join(', ')})` : ''}`,
      one.feeder_count === undefined ? '' : fixed(one.feeder_count, 0),
      one.largest_feeder_mm === undefined ? '' : `${fixed(one.largest_feeder_mm, 1)} mm (m)`,
      one.flow_share === undefined ? '' : `${atMost}${fixed(100 * one.flow_share, 0)} % (d)`,
      one.shunt_fraction === undefined
        ? ''
        : `${atMost}${fixed(100 * one.shunt_fraction, 1)} % of output (d)`,
      `${one.state}${one.treated ? `, treated ${markdownText(one.treated)}` : ''}`,
      one.recommended ?? '',
    ];
  });
  const rest =
    result.remainder === 'none'
      ? 'The file states that no other lesion carries shunt.'
      : result.remainder === 'share'
        ? `${fixed(100 * (result.remainder_share ?? 0), 0)} % of the shunt runs through lesions that no surface holds (s); closing everything here leaves it.`
        : `How much of the shunt runs through lesions that no surface holds is not known (${clause(result.remainder_because ?? 'not stated').replace(/\.$/, '')}): shares are upper bounds.`;
  return section(2, 'Lesions', [
    table(
      ['Lesion', 'Place', 'Feeders', 'Largest', 'Share of the flow', 'Carries now', 'State', 'Advice'],
      rows,
    ),
    `${rest} What a lesion carries now is not what its closure takes away. Order: ${(result.order_because ?? []).map((text) => cite.clause(text)).join(' ')} Each lesion's own plan: lesions/ID/plan.md.`,
  ]);
}

function pictures(figures: readonly FigureLink[]): string[] {
  if (figures.length === 0) return [];
  return [
    section(
      2,
      'Picture',
      figures.map(({ name, alt }) => `![${markdownText(alt)}](figures/${name})`),
    ),
  ];
}

function notPlannedSection(result: PatientResult, cite: Citations): string {
  const lost = Object.entries(result.lesions).flatMap(([id, { absent_because: why }]) =>
    why === undefined ? [] : [`**${markdownText(id)}**: ${cite.clause(why)}`],
  );
  const feeders = (result.not_planned ?? []).map(
    ({ vessel, because }) => `**${markdownText(vessel)}**: ${cite.clause(because)}`,
  );
  const all = [...lost, ...feeders];
  return section(2, 'Not planned', [
    all.length > 0 ? bullets(all) : 'Every feeder of every lesion is in a session.',
    all.length > 0
      ? 'What is not closed goes on shunting: antibiotics before dental work, no air in lines, no diving, and the risk of stroke and abscess remain.'
      : undefined,
  ]);
}

function shuntLine(result: PatientResult): string {
  const shunt = result.baseline === 'after' ? result.shunt_after : result.shunt;
  const when = result.baseline === 'after' ? 'after the last treatment' : 'before treatment';
  if (shunt?.fraction === undefined)
    return `Shunt not computed: ${clause(shunt?.absent_because ?? 'there is no usable arterial sample')}`;
  return `Shunt ${when}: ${shuntEstimate(shunt)} of cardiac output, through all lesions together.`;
}

function sessionSection(result: PatientResult, cite: Citations): string {
  const { sessions } = result;
  const why = (result.sessions_because ?? []).map((text) => cite.sentence(text));
  if (sessions.length === 0)
    return section(2, 'Sessions', [
      'No session: no feeder can be closed through a catheter as things stand.',
    ]);
  const limit = result.session_limits?.contrast_ml;
  const rows = sessions.map((one) => [
    fixed(one.number, 0),
    one.on === undefined ? 'no date' : `${markdownText(one.on)} (${markdownText(one.on_because ?? '')})`,
    (one.sides ?? []).join(' and ') || 'not stated',
    one.closes.map(markdownText).join(', '),
    `${rangeText(one.contrast_ml, 0, 'mL')} (a)${limit === undefined ? '' : ` of ${fixed(limit, 0)}`}`,
    afterText(one),
  ]);
  return section(2, 'Sessions', [
    table(['No', 'Date', 'Side', 'Closes', 'Contrast', 'Expected after it'], rows),
    bullets(why),
    ...(result.sessions_alternatives
      ? [
          'Alternatives, and their price:',
          bullets(result.sessions_alternatives.map(({ text }) => cite.sentence(text))),
        ]
      : []),
    'Contrast: a range for each lung and each feeder, by common practice; what counts is the record of the session. Radiation is not predicted: keep the record. [cp]'.replace(
      '[cp]',
      cite.mark('common practice, no source'),
    ),
    '**The next session is cancelled** by a bleed, a stroke, fever, a fall of the saturation, a pulmonary pressure that has risen, worse kidney function, or a scan that shows something else: plan again.',
    '**Checklist of each session**: side and lesions read aloud; devices and spares in the theatre; contrast used so far within 72 h; pulmonary pressure before the first device; air filters on every line; saturation on air before and after.',
  ]);
}

function afterText(one: Session): string {
  if (one.shunt_after_fraction === undefined)
    return `not computed: ${clause(one.absent_because ?? 'no shunt')}`;
  const least = one.shunt_after_is ? 'at least ' : '';
  const most = one.shunt_after_is ? 'at most ' : '';
  const parts = [
    `shunt ${least}${fixed(100 * one.shunt_after_fraction, 1)} %${one.shunt_after_interval ? ` (${rangeText(one.shunt_after_interval.map((x) => 100 * x) as [number, number], 1, '%')})` : ''}`,
    one.so2_room_air_percent === undefined
      ? undefined
      : `saturation on air ${most}${fixed(one.so2_room_air_percent, 1)} %`,
    one.mean_pa_pressure_mmhg === undefined
      ? undefined
      : `mean PA at most ${fixed(one.mean_pa_pressure_mmhg, 0)} mmHg`,
  ];
  return `${parts.filter((part) => part !== undefined).join('; ')} (d)`;
}

function deviceSection(result: PatientResult): string {
  const rows = result.sessions.flatMap(({ number, devices }) =>
    devices.map(({ vessel, code, kind, diameter_mm: mm, count }) => {
      const device = result.devices[vessel];
      const spare = device?.alternates.find((other) => other.on_shelf && other.code !== code);
      return [
        fixed(number, 0),
        `**${markdownText(vessel)}**`,
        code === undefined
          ? 'none chosen: a shelf file is needed'
          : `${kind === undefined ? 'device' : deviceKind(kind)} ${mm === undefined ? '' : `${trimmed(mm)} mm `}${markdownText(code)}, ${counted(count ?? 1, 'piece')}`,
        device?.on_shelf === undefined
          ? ''
          : device.on_shelf
            ? 'yes'
            : `no; by ${markdownText(device.ready_by ?? 'unknown')}`,
        spare === undefined ? 'none in stock' : markdownText(spare.code),
      ];
    }),
  );
  const orders = (result.order_list ?? []).map(
    (line) =>
      `**Order ${markdownText(line.item)}**, ${counted(line.count, 'piece')}, for ${line.for.map(markdownText).join(', ')}${line.order_by ? `: by ${markdownText(line.order_by)}` : ''}${line.ready_by ? `; ordered today it is there by ${markdownText(line.ready_by)}` : ''}.`,
  );
  return section(2, 'Devices', [
    rows.length > 0
      ? table(['Session', 'Vessel', 'Device', 'On the shelf', 'Spare'], rows)
      : 'No device is planned.',
    orders.length > 0 ? bullets(orders) : 'Nothing to order.',
    'No piece is given to two vessels, and each lesion is planned with what the others leave on the shelf.',
  ]);
}

function planBSection(result: PatientResult, plans: PatientPlanExtras['plans'], cite: Citations): string {
  const rows = Object.entries(result.lesions)
    .filter(([, { state }]) => state === 'open')
    .map(([id, one]) => {
      const resection = plans[id]?.resection;
      const percent = (value: number | undefined): string =>
        value === undefined ? 'not predicted' : `${fixed(value, 1)} % (d)`;
      return [
        `**${markdownText(id)}**`,
        markdownText(resection?.procedure ?? `${lobeOf(one)}, not worked out`),
        percent(resection?.predicted_fev1_percent),
        percent(resection?.predicted_dlco_percent),
        one.plan_b_ready ?? '',
      ];
    });
  if (rows.length === 0) return section(2, 'Plan B', ['No open lesion to resect.']);
  const all = result.resection_all;
  const after =
    all === undefined || all.lesions.length < 2
      ? undefined
      : all.absent_because !== undefined
        ? `After all resections: not predicted: ${clause(all.absent_because)}`
        : `After all of them ${all.left_segments} of ${all.working_segments} working segments are left: FEV1 ${all.predicted_fev1_percent === undefined ? 'not predicted' : `${fixed(all.predicted_fev1_percent, 1)} % of predicted (d)`}, DLCO ${all.predicted_dlco_percent === undefined ? 'not predicted' : `${fixed(all.predicted_dlco_percent, 1)} % (d)`}.`;
  return section(2, 'Plan B', [
    table(['Lesion', 'Resection', 'FEV1 after it', 'DLCO after it', 'Ready'], rows),
    after,
    rows.length > 1
      ? `Several lesions: take segments or a wedge rather than a lobe where the lesion allows it, since the next lesion may ask for the next resection ${cite.mark('common practice, no source')}. Steps and branches to spare: lesions/ID/plan.md.`
      : 'Steps and branches to spare: lesions/ID/plan.md.',
  ]);
}

function forLifeSection(plans: PatientPlanExtras['plans'], cite: Citations): string {
  const [first] = Object.values(plans);
  const visits = first?.readiness.follow_up ?? [];
  const lines = visits.map(({ what, from, to, source }) => {
    const when = from && to ? `**${from} to ${to}**: ` : '';
    return `${when}${cite.sentence(what)} ${cite.mark(source)}`;
  });
  return section(2, 'For life', [
    'Antibiotics before procedures that cause bacteraemia, air filters on lines, no scuba diving, iron kept normal: also when every feeder is closed.',
    lines.length > 0 ? bullets(lines) : 'Follow-up dates need a planned date.',
  ]);
}

function unknownSection({ unknowns }: PatientFacts, result: PatientResult): string {
  const by = result.sessions[0]?.on;
  if (unknowns.length === 0) return section(2, 'Unknown', ['Nothing that this plan asks for is missing.']);
  return section(2, 'Unknown', [
    table(
      ['What', 'Who answers', 'By'],
      unknowns.map(({ what, who }) => [
        markdownText(what),
        markdownText(who),
        by === undefined ? 'before the first session' : markdownText(by),
      ]),
    ),
  ]);
}

function closureSection(result: PatientResult): string {
  const rows = result.closure.map((row) => {
    const closed = row.closed === 'lobe' ? 'lobe' : row.closed.map(markdownText).join(' + ');
    if (row.shunt_fraction === undefined)
      return [closed, clause(row.absent_because ?? 'not computed'), '', ''];
    const range = row.intervals?.shunt_fraction;
    return [
      closed,
      `${row.shunt_fraction_is ? '≥ ' : ''}${fixed(100 * row.shunt_fraction, 1)}${range ? ` (${rangeText(range.map((x) => 100 * x) as [number, number], 1, '')})` : ''}`.trim(),
      row.so2_room_air_percent === undefined
        ? ''
        : `${row.shunt_fraction_is ? '≤ ' : ''}${fixed(row.so2_room_air_percent, 1)}`,
      row.mean_pa_pressure_mmhg === undefined ? '' : fixed(row.mean_pa_pressure_mmhg, 1),
    ];
  });
  return section(2, 'Virtual closure', [
    rows.length > 0
      ? table(['Closed', 'Qs/Qt, % (95 %)', 'SaO2 on air, %', 'Mean PA, mmHg, at most'], rows)
      : 'No set of feeders to close.',
    sentence(
      'all derived (d) from one network of all feeders, fitted to the measured shunt; closing everything leaves the remainder and the physiological shunt',
    ),
  ]);
}
