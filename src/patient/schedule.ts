import { isBleeding } from '../case/bleeding.js';
import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { addDays, dayNumber } from '../foundation/iso-date.js';
import { fixed } from '../foundation/number-text.js';
import type { ClosureOutcome } from '../physiology/closure-table.js';
import { isNoneOpen } from '../plan/none-open.js';
import type { PatientResult, Session } from '../result/patient-result.js';
import type { Closure } from '../result/result.generated.js';
import { numberOf } from '../rules/rule.js';
import { feederName } from './all-lesions.js';
import type { PatientBasis } from './patient-basis.js';
import { contrastClear } from './contrast-clear.js';
import { sessionAlternatives } from './session-alternatives.js';
import { contrastUse, limitsInForce, type LimitsInForce } from './session-limits.js';
import { contrastOfSession, planSessions, type SessionFeeder, type SessionPlan } from './sessions.js';

interface ScheduleInput extends Pick<PatientBasis, 'lesions' | 'patient' | 'devices' | 'rules' | 'shelf'> {
  whole: Case;
  today: string | undefined;
  closing: ClosureOutcome;
}

type Fields = Pick<
  PatientResult,
  | 'session_limits'
  | 'sessions_because'
  | 'sessions_proven_fewest'
  | 'sessions_without'
  | 'sessions_alternatives'
  | 'not_planned'
  | 'order_list'
>;

/** The sessions, without the shunt left after each. */
export interface Schedule {
  fields: Fields;
  /** The feeders closed after each session, for the virtual closure. */
  cumulative: string[][];
  sessionsWith(rows: readonly Closure[]): Session[];
  /** Reasons to discuss before anything else. */
  advice: string[];
  findings: Finding[];
}

/** Divides the feeders of all lesions into sessions with dates, devices and contrast. Volumes mL, dates ISO; no clock is read. */
export function scheduledSessions(input: ScheduleInput): Schedule {
  const { patient, rules, whole, devices } = input;
  const isUrgent = isBleeding(whole) || patient.shared.patient.pregnant === 'yes';
  const limits = limitsInForce(patient.shared, isUrgent, rules);
  const use = contrastUse(rules);
  const { feeders, left } = toClose(input);
  const plan = planSessions(feeders, limits, use);
  const alternatives = sessionAlternatives(feeders, plan, limits, use, rules);
  const byName = new Map(feeders.map((one) => [one.name, one]));
  const sets = plan.sessions.map((names) => names.map((name) => byName.get(name) as SessionFeeder));
  const contrasts = sets.map((set) => contrastOfSession(set, use));
  const dates = datesOf(input, plan.sessions, limits, contrasts);
  const said = limitFindings(plan, limits, contrasts);
  const cumulative = plan.sessions.map((_, k) => inOrder(feeders, plan.sessions.slice(0, k + 1).flat()));
  return {
    fields: {
      session_limits: {
        ...(limits.contrastMl !== undefined && {
          contrast_ml: limits.contrastMl,
          contrast_of: limits.contrastOf,
          contrast_from: limits.contrastFrom,
        }),
        one_lung: limits.oneLung,
        most_feeders: limits.mostFeeders,
        gap_days: limits.gapDays,
        gap_binds: limits.gapBinds,
      },
      sessions_because: reasons(plan, limits, isUrgent),
      sessions_proven_fewest: plan.provenFewest,
      ...(plan.without.length > 0 && { sessions_without: plan.without }),
      ...(alternatives.length > 0 && { sessions_alternatives: alternatives }),
      ...(left.length > 0 && { not_planned: left }),
      order_list: orderList(input, plan.sessions, dates),
    },
    cumulative,
    sessionsWith: (rows) => {
      const row = (closed: readonly string[]): Closure | undefined =>
        rows.find((one) => one.closed !== 'lobe' && sameSet(one.closed, closed));
      let before = input.closing.before;
      return plan.sessions.map((closes, k): Session => {
        const after = row(cumulative[k]);
        const session: Session = {
          number: k + 1,
          ...dates[k],
          lesions: [...new Set(sets[k].map(({ lesion }) => lesion))],
          sides: [...new Set(sets[k].flatMap(({ side }) => side ?? []))],
          closes,
          contrast_ml: contrasts[k],
          devices: closes.map((vessel) => {
            const { code, kind, diameter_mm, count, ready_by } = devices.devices[vessel] ?? {};
            return { vessel, code, kind, diameter_mm, count, ready_by };
          }),
          shunt_before_fraction: before,
          shunt_after_fraction: after?.shunt_fraction,
          shunt_after_interval: after?.intervals?.shunt_fraction,
          shunt_after_is: after?.shunt_fraction_is,
          so2_room_air_percent: after?.so2_room_air_percent,
          so2_room_air_interval: after?.intervals?.so2_room_air_percent,
          mean_pa_pressure_mmhg: after?.mean_pa_pressure_mmhg,
          absent_because: after?.absent_because,
        };
        before = after?.shunt_fraction;
        return session;
      });
    },
    advice: said.advice,
    findings: [...said.findings, ...left.map(({ vessel, because }) => leftFinding(vessel, because))],
  };
}

const sameSet = (a: readonly string[], b: readonly string[]): boolean =>
  a.length === b.length && a.every((name) => b.includes(name));

const inOrder = (feeders: readonly SessionFeeder[], names: readonly string[]): string[] =>
  feeders.map(({ name }) => name).filter((name) => names.includes(name));

const leftFinding = (vessel: string, because: string): Finding =>
  finding('caution', 'feeder-not-in-session', vessel, `No session closes ${vessel}: ${because}.`);

/** The feeders to schedule, and those left out with the reason. */
function toClose({ lesions, closing, devices, shelf, patient }: ScheduleInput): {
  feeders: SessionFeeder[];
  left: { vessel: string; because: string }[];
} {
  const feeders: SessionFeeder[] = [];
  const left: { vessel: string; because: string }[] = [];
  for (const { id, case: patientCase, lesion, result } of lesions) {
    if (isNoneOpen(patientCase)) continue;
    for (const { name, role } of lesion.vessels) {
      const vessel = feederName(id, name);
      if (role === 'systemic-feeder')
        left.push({ vessel, because: 'a systemic artery needs a plan of its own' });
      if (role !== 'feeder') continue;
      const device = devices.devices[vessel];
      const because =
        patient.shared.planned.approach === 'resect'
          ? 'the team plans to resect'
          : device?.window_mm === undefined
            ? (device?.absent_because ?? 'it has no landing zone')
            : shelf !== undefined && device.code === undefined
              ? 'no device on the shelf fits'
              : result.readiness.recommended === 'resect'
                ? `the advice for ${id} is to resect`
                : undefined;
      if (because !== undefined) {
        left.push({ vessel, because: because.replace(/\.$/, '') });
        continue;
      }
      feeders.push({
        name: vessel,
        lesion: id,
        ...(patientCase.lesion.side && { side: patientCase.lesion.side }),
        share: closing.shares.shares.find((share) => share.name === vessel)?.poiseuille ?? 0,
        bleeds: isBleeding(patientCase) && patient.shared.bleeding === undefined,
      });
    }
  }
  return { feeders, left };
}

/**
 * The dates depend on devices, on the planned date or today for the first session, and on the gap; contrast within 72 hours is added up.
 */
function datesOf(
  { devices, today, patient, rules }: ScheduleInput,
  sessions: readonly (readonly string[])[],
  limits: LimitsInForce,
  contrasts: readonly (readonly [number, number])[],
): { on?: string; on_because?: string }[] {
  const windowDays = Math.ceil(numberOf(rules, 'session-contrast-window') / 24);
  const { date: planned } = patient.shared.planned;
  const first = planned ?? today;
  if (first === undefined || dayNumber(first) === undefined) return sessions.map(() => ({}));
  const dates: { on: string; on_because: string }[] = [];
  sessions.forEach((names, k) => {
    const before = dates.at(-1);
    const earliest = before === undefined ? first : addDays(before.on, limits.gapDays);
    const last = names
      .flatMap((name) => devices.devices[name]?.ready_by ?? [])
      .sort()
      .at(-1);
    const isLate = last !== undefined && last > earliest;
    const start = isLate ? last : earliest;
    const on = contrastClear(
      start,
      dates.map((date, i) => ({ on: date.on, most: contrasts[i][1] })),
      contrasts[k][1],
      limits.contrastMl,
      windowDays,
    );
    dates.push({
      on,
      on_because:
        on > start
          ? `${windowDays} days on: contrast within that time counts together`
          : isLate
            ? 'the last device is there'
            : before === undefined
              ? planned === undefined
                ? 'today'
                : 'the planned date'
              : `${limits.gapDays} days on, ${limits.gapBinds ? 'as the file says' : 'a preference'}`,
    });
  });
  return dates;
}

function limitFindings(
  plan: SessionPlan,
  limits: LimitsInForce,
  contrasts: readonly (readonly [number, number])[],
): { findings: Finding[]; advice: string[] } {
  const findings: Finding[] = [];
  const advice: string[] = [];
  const ofPatient: string[] = [];
  for (const { feeder, of, contrastMl, limitMl } of plan.above) {
    const limit = fixed(limitMl, 0);
    const isPatients = of === 'patient';
    const text = `${feeder} alone may need ${fixed(contrastMl, 0)} mL of contrast, above the ${isPatients ? `patient's limit of ${limit} mL (${limits.patientContrastFrom})` : `hospital's limit of ${limit} mL (planned.session.contrast_limit)`}: no plan keeps that limit. ${isPatients ? 'Discuss before it is planned.' : 'It has a session of its own; agree on the volume beforehand.'}`;
    findings.push(finding('caution', 'session-contrast-above', feeder, text));
    if (isPatients) ofPatient.push(feeder);
  }
  if (ofPatient.length > 0)
    advice.push(
      `No plan keeps the patient's limit of contrast of ${fixed(limits.patientContrastMl ?? 0, 0)} mL (${limits.patientContrastFrom}): ${ofPatient.join(', ')} alone may need more.`,
    );
  const { patientContrastMl: own, patientContrastFrom: from } = limits;
  if (limits.contrastMl === undefined && own !== undefined)
    contrasts.forEach(([, most], k) => {
      if (most > own)
        findings.push(
          finding(
            'caution',
            'session-contrast-above',
            `sessions.${k}`,
            `Session ${k + 1} may need ${fixed(most, 0)} mL of contrast; the smallest limit for this patient is ${fixed(own, 0)} mL (${from}). It does not bind, since the file writes no contrast_limit: keep the volume low, or write one.`,
          ),
        );
    });
  if (!plan.provenFewest)
    findings.push(
      finding(
        'note',
        'sessions-not-proven-fewest',
        'sessions',
        `There are too many feeders for an exact search: ${plan.sessions.length} sessions were found, at least ${plan.least} are needed.`,
      ),
    );
  return { findings, advice };
}

/** Why these sessions: the binding limits and their cost, and the preferences. */
function reasons(plan: SessionPlan, limits: LimitsInForce, isUrgent: boolean): string[] {
  const said = [
    'Fewest sessions first: until the last feeder is closed the risk of stroke and abscess remains (common practice, no source).',
  ];
  if (isUrgent) said.push('A bleed or a pregnancy: no more sessions than the limits require.');
  if (limits.contrastMl !== undefined)
    said.push(
      `At most ${fixed(limits.contrastMl, 0)} mL of contrast a session (${limits.contrastOf === 'patient' ? `the patient's limit, ${limits.contrastFrom}` : 'the hospital'}).`,
    );
  if (limits.oneLung) said.push('One lung a session, as the file says.');
  if (limits.mostFeeders !== undefined)
    said.push(`At most ${limits.mostFeeders} feeders a session, as the file says.`);
  for (const { limit, sessions } of plan.without)
    said.push(`Without ${limit} ${sessions} ${sessions === 1 ? 'session' : 'sessions'} would do.`);
  if (plan.sessions.length > 1)
    said.push(
      'Among these: lesions kept together, then what bleeds and what carries most of the shunt first (common practice, no source). Measure the pulmonary pressure before each session.',
    );
  return said;
}

function orderList(
  { devices, today }: ScheduleInput,
  sessions: readonly (readonly string[])[],
  dates: readonly { on?: string }[],
): PatientResult['order_list'] {
  const lines = devices.orderList.map(({ item, count, ready_by: readyBy, for: names = [] }) => {
    const when = sessions
      .flatMap((closes, k) => (names.some((name) => closes.includes(name)) ? (dates[k].on ?? []) : []))
      .sort()[0];
    const lead =
      readyBy === undefined || today === undefined
        ? undefined
        : (dayNumber(readyBy) as number) - (dayNumber(today) as number);
    return {
      item,
      count,
      ready_by: readyBy,
      order_by: when === undefined || lead === undefined ? undefined : addDays(when, -lead),
      for: names,
    };
  });
  const sorted = lines.sort((a, b) => (a.order_by ?? '9').localeCompare(b.order_by ?? '9'));
  return sorted.length > 0 ? sorted : undefined;
}
