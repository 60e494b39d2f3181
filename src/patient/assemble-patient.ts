import { isBleeding } from '../case/bleeding.js';
import type { Case } from '../case/case.js';
import type { PatientFile, Remainder } from '../case/parse-patient.js';
import { type Finding, finding } from '../foundation/finding.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { type CaseShunts, caseShunts } from '../physiology/case-shunts.js';
import { closureSets } from '../physiology/closure-sets.js';
import { type ClosureOutcome, closureTable } from '../physiology/closure-table.js';
import { pressureOf, todayOf, toolOf, uniqueFindings, withoutUndefined } from '../plan/assemble-result.js';
import { isNoneOpen } from '../plan/none-open.js';
import { CONSTANTS } from '../reference/constants.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { PatientLesion, PatientResult } from '../result/patient-result.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { adviceFor } from './advice.js';
import { allVessels, type FailedLesion, feederName, type MeasuredLesion, wholeCase } from './all-lesions.js';
import { joinedChecklist, joinedFindings } from './join-lesions.js';
import { resectionOfAll } from './resection-of-all.js';
import type { LesionPlan, PatientBasis } from './patient-basis.js';
import { scheduledSessions } from './schedule.js';

/** The remainder in force: a lesion that could not be planned makes it unknown. */
export function remainderInForce(
  { remainder }: Pick<PatientFile, 'remainder'>,
  failed: readonly FailedLesion[],
): Remainder {
  return failed.length > 0 ? 'unknown' : remainder;
}

/** Computes one plan for all lesions of a patient: one result from which its documents are written. */
export function assemblePatient(basis: PatientBasis): PatientResult {
  const { patient, lesions, failed, rules, shelf, devices } = basis;
  const { shared } = patient;
  const remainder = remainderInForce(patient, failed);
  const whole = wholeCase(patient, lesions, remainder);
  const today = todayOf({ todayOption: basis.todayOption, shelf, case: whole });
  const shunts = caseShunts(whole, rules);
  const given = { whole, shunts, lesions, remainder, rules };
  // only shares and order; the rows follow once the sessions are known
  const closing = patientClosure({ ...given, only: [] });
  const planned = scheduledSessions({ ...basis, whole, today: today.date, closing });
  const closure = patientClosure({ ...given, more: planned.cumulative });
  const sessions = planned.sessionsWith(closure.rows);
  const fraction = shunts.closureShunt?.fraction;
  const order = lesionOrder(lesions, closing);
  const own = [
    ...basis.findings,
    ...shunts.findings,
    ...closure.findings,
    ...devices.findings,
    ...planned.findings,
    ...sideFindings(lesions),
    ...failed.map(({ id, problems }) =>
      finding(
        'stop',
        'lesion-not-planned',
        id,
        `The lesion ${id} could not be planned: ${problems.join(' ')} The others are planned; the remainder of the shunt counts as unknown.`,
      ),
    ),
  ];
  const advice = adviceFor(lesions, planned.advice);
  return withoutUndefined<PatientResult>({
    format: 'pavm-patient-result/1',
    patient: shared.id,
    title: shared.title,
    purpose: shared.purpose,
    scan_date: whole.scan.date,
    tool: toolOf(basis.version, rules),
    today,
    inputs: basis.inputs,
    baseline: shunts.baseline,
    shunt: shunts.before.shunt,
    shunt_after: shunts.after.shunt,
    shunt_change: shunts.change && { change: shunts.change.change, interval: shunts.change.interval },
    pulmonary_pressure: pressureOf(shared, shunts, rules),
    lesions: Object.fromEntries([
      ...lesions.map((one) => [one.id, lesionRow(one, closing, remainder, fraction)]),
      ...failed.map(({ id, file, problems }) => [
        id,
        { case: file, state: 'not planned', absent_because: problems.join(' ') } satisfies PatientLesion,
      ]),
    ]),
    ...remainderFields(remainder, failed),
    order,
    order_because: [
      'what bleeds first, then the larger share of the shunt, then the larger feeder (common practice, no source)',
    ],
    ...planned.fields,
    sessions,
    closure: closure.rows,
    closure_order: closing.order,
    devices: devices.devices,
    resection_all: resectionOfAll(lesions, shared.patient.spirometry),
    advice,
    checklist: joinedChecklist(lesions),
    findings: uniqueFindings(joinedFindings(own, lesions)),
    cautions: [...STANDING_CAUTIONS],
  });
}

/** The input of a patient's virtual closure. */
export interface PatientClosureInput {
  whole: Case;
  shunts: CaseShunts;
  lesions: readonly MeasuredLesion[];
  remainder: Remainder;
  rules: Rules;
  /** Sets in addition to those of each feeder, each lesion and all. */
  more?: readonly (readonly string[])[];
  /** Only these sets. */
  only?: readonly (readonly string[])[];
  /** How far each feeder is closed, 0..1; default 1. */
  occlusion?: number;
}

/** Virtual closure over the feeders of all lesions: each feeder alone, each lesion, all of them, and the requested sets. */
export function patientClosure(input: PatientClosureInput): ClosureOutcome {
  const { whole, shunts, lesions, remainder, rules, more = [], only, occlusion } = input;
  const vessels = allVessels(lesions);
  const names = feedersOf(vessels);
  const byLesion = lesions.map(({ id }) => names.filter((name) => name.startsWith(`${id}/`)));
  return closureTable({
    vessels,
    shunt: shunts.closureShunt,
    draws: shunts.headline.draws,
    case: whole,
    rules,
    patient: { remainder: typeof remainder === 'number' ? remainder : 0 },
    ...(occlusion !== undefined && { occlusion }),
    sets: only ?? distinct([...closureSets(names, names), ...byLesion, ...more]),
  });
}

const feedersOf = (vessels: readonly VesselMeasure[]): string[] =>
  vessels.filter(({ role }) => role === 'feeder').map(({ name }) => name);

function distinct(sets: readonly (readonly string[])[]): string[][] {
  const seen = new Set<string>();
  return sets.flatMap((set) => {
    const key = JSON.stringify(set);
    if (set.length === 0 || seen.has(key)) return [];
    seen.add(key);
    return [[...set]];
  });
}

/** Share of the flow through a lesion, by Poiseuille's law (central) and Murray's law. */
function shareOf(
  lesion: string,
  { shares }: ClosureOutcome,
): { central: number; murray: number } | undefined {
  if (shares.shares.length === 0) return undefined;
  const own = shares.shares.filter(({ name }) => name.startsWith(`${lesion}/`));
  return {
    central: own.reduce((sum, { poiseuille }) => sum + poiseuille, 0),
    murray: own.reduce((sum, { murray }) => sum + murray, 0),
  };
}

function lesionRow(
  one: LesionPlan,
  closing: ClosureOutcome,
  remainder: Remainder,
  fraction: number | undefined,
): PatientLesion {
  const { id, file, case: patientCase, lesion, result } = one;
  const closed = isNoneOpen(patientCase);
  const feeders = lesion.vessels.filter(({ role }) => role === 'feeder');
  const calibres = feeders.map(({ landing, calibreMm }) => landing?.calibreMm ?? calibreMm.mean);
  const share = shareOf(id, closing);
  const above =
    fraction === undefined ? undefined : Math.max(0, fraction - CONSTANTS.physiologicalShuntFraction.value);
  const { readiness } = result;
  return {
    case: file,
    title: patientCase.title,
    surface_confirmed: result.proposal?.confirmed,
    side: patientCase.lesion.side,
    lobe: patientCase.lesion.lobe,
    ...(patientCase.lesion.segments.length > 0 && { segments: patientCase.lesion.segments }),
    state: closed ? 'closed' : 'open',
    treated: patientCase.lesion.treated,
    feeder_count: closed ? 0 : (result.lesion.feeder_count ?? feeders.length),
    feeders: closed ? [] : feeders.map(({ name }) => feederName(id, name)),
    ...(!closed && calibres.length > 0 && { largest_feeder_mm: Math.max(...calibres) }),
    ...(share && {
      flow_share: share.central,
      flow_share_range: [Math.min(share.central, share.murray), Math.max(share.central, share.murray)],
      ...(remainder === 'unknown' && { flow_share_is: 'at-most' as const }),
      ...(above !== undefined && { shunt_fraction: share.central * above }),
    }),
    recommended: closed ? undefined : readiness.recommended,
    plan_a_ready: closed ? undefined : readyText(readiness.plan_a),
    plan_b_ready: closed ? undefined : readyText(readiness.plan_b),
    extent: closed ? undefined : (patientCase.surgery.extent ?? 'lobe'),
    stops: result.findings.filter(({ level }) => level === 'stop').length,
    plan: `lesions/${id}/plan.md`,
  };
}

const readyText = ({ ready_today: today, ready_by: by, missing }: Result['readiness']['plan_a']): string => {
  if (today) return 'ready';
  if (by !== undefined) return `from ${by}`;
  return missing.length > 0 ? 'not ready' : 'to be confirmed';
};

function lesionOrder(lesions: readonly LesionPlan[], closing: ClosureOutcome): string[] {
  const weight = ({ id, case: patientCase }: LesionPlan): number =>
    (lesions.length > 1 && isBleeding(patientCase) ? 1000 : 0) + (shareOf(id, closing)?.central ?? 0);
  const largest = ({ lesion }: LesionPlan): number =>
    Math.max(0, ...lesion.vessels.map(({ role, calibreMm }) => (role === 'feeder' ? calibreMm.mean : 0)));
  return lesions
    .filter(({ case: patientCase }) => !isNoneOpen(patientCase))
    .map((one, i) => ({ one, i }))
    .sort((a, b) => weight(b.one) - weight(a.one) || largest(b.one) - largest(a.one) || a.i - b.i)
    .map(({ one }) => one.id);
}

function remainderFields(
  remainder: Remainder,
  failed: readonly FailedLesion[],
): Pick<PatientResult, 'remainder' | 'remainder_because' | 'remainder_share' | 'remainder_share_range'> {
  if (typeof remainder === 'number')
    return {
      remainder: 'share',
      remainder_because: 'stated in the patient file',
      remainder_share: remainder,
    };
  if (remainder === 'none')
    return { remainder, remainder_because: 'stated in the patient file', remainder_share: 0 };
  return {
    remainder,
    remainder_because:
      failed.length > 0
        ? `not planned: ${failed.map(({ id }) => id).join(', ')}`
        : 'whether other lesions exist is not known',
    remainder_share: 0,
    remainder_share_range: [0, 1],
  };
}

/** A lesion of the left lung is to the left of every lesion of the right lung; otherwise a surface or a side is wrong. */
function sideFindings(lesions: readonly LesionPlan[]): Finding[] {
  const placed = lesions.flatMap(({ id, case: { lesion, surfaces }, lesion: { vessels } }) => {
    const line = vessels.find(({ neck, centrelineMm }) => neck && centrelineMm.length > 0);
    const x = line?.neck?.pointMm[0];
    if (x === undefined || lesion.side === undefined || !surfaces || surfaces.frame === 'unknown') return [];
    return [{ id, side: lesion.side, towardsLeft: surfaces.frame === 'RAS' ? -x : x }];
  });
  return placed.flatMap((left) =>
    placed
      .filter(
        (right) => left.side === 'left' && right.side === 'right' && left.towardsLeft <= right.towardsLeft,
      )
      .map((right) =>
        finding(
          'caution',
          'lesion-sides-contradict',
          left.id,
          `By the coordinates of the surfaces ${left.id} (left lung) is not to the left of ${right.id} (right lung): a side, a frame or a surface is wrong. Check both on the scan.`,
        ),
      ),
  );
}
