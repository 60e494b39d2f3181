import type { Case, Shelf } from '../case/case.js';
import { planDevices } from '../devices/plan-devices.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed } from '../foundation/number-text.js';
import type { LesionMeasure } from '../geometry/measure.js';
import { roleDoubt } from '../geometry/role-doubt.js';
import { type CaseShunts, caseShunts } from '../physiology/case-shunts.js';
import { closureTable } from '../physiology/closure-table.js';
import { predictLungFunction } from '../physiology/lung-function.js';
import { judgePressure } from '../physiology/pulmonary-pressure.js';
import { countResection } from '../physiology/resection-count.js';
import { lungSparingOffer } from '../resection/lung-sparing.js';
import { planResection } from '../resection/plan-resection.js';
import { STANDING_CAUTIONS } from '../result/cautions.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import type { MissedVessel } from '../witness/missed-vessels.js';
import type { Uncontrasted } from '../witness/uncontrasted.js';
import { buildChecklist } from './checklist.js';
import { type CounsellingSheet, counsellingSheet } from './counselling.js';
import { dateFindings } from './date-findings.js';
import { feedersToClose } from './feeders-to-close.js';
import { lesionKind } from './lesion-kind.js';
import {
  leftOutResult,
  lesionResult,
  mendedResult,
  neighboursResult,
  sacResult,
  unnamedResult,
} from './lesion-result.js';
import { isNoneOpen } from './none-open.js';
import { planReadiness } from './readiness.js';
import type { PlanInput } from './readiness-facts.js';
import { scanAdvice } from './scan-advice.js';
import { scanWitness } from './scan-witness.js';
import { stockToday, urgentPlan } from './urgent.js';
import { vesselResults } from './vessel-result.js';

/** Everything a plan depends on, read and measured. */
export interface PlanBasis {
  case: Case;
  lesion: LesionMeasure;
  shelf?: Shelf;
  rules: Rules;
  /** Findings from reading and measuring. */
  findings: readonly Finding[];
  /** Those of the printable model: no plan depends on it. */
  printFindings?: readonly Finding[];
  inputs: Result['inputs'];
  /** The CT series, and whether the surfaces match it. */
  scan?: Result['scan'];
  frame?: Result['frame'];
  /** Given if the surface was made from the scan. */
  proposal?: Result['proposal'];
  /** Vessels in the scan that no surface includes, and parts of the surfaces without contrast agent. */
  missed?: readonly MissedVessel[];
  uncontrasted?: readonly Uncontrasted[];
  version: string;
  /** ISO date given on the command line. */
  todayOption?: string;
  print?: Result['print'];
  /** Why the printable export was abandoned, if it was. */
  printAbsentBecause?: string;
}

/** The subjects of the stops. */
function concernsOfStops(findings: readonly Finding[]): string[] {
  return [...new Set(findings.filter(({ level }) => level === 'stop').map(({ where }) => where))];
}

/** The source of 'today'; no clock is read. */
export function todayOf(basis: Pick<PlanBasis, 'todayOption' | 'shelf' | 'case'>): Result['today'] {
  if (basis.todayOption !== undefined) return { date: basis.todayOption, from: 'option' };
  if (basis.shelf?.asOf !== undefined) return { date: basis.shelf.asOf, from: 'shelf' };
  if (basis.case.scan.date !== undefined) return { date: basis.case.scan.date, from: 'scan' };
  return { from: 'unknown' };
}

/** Computes the plan: one result from which every document and figure is written. */
export function assembleResult(basis: PlanBasis): { result: Result; counselling: CounsellingSheet } {
  const parts = partsOf(basis);
  return { result: resultOf(basis, parts), counselling: counsellingSheet(parts.input) };
}

/** The computed parts of a plan, and the findings made on the way. */
type Parts = ReturnType<typeof partsOf>;

/** Shunt, closure, devices and resection, then everything that depends on them. */
function partsOf(basis: PlanBasis) {
  const { case: patientCase, lesion, rules, shelf } = basis;
  const today = todayOf(basis);
  const shunts = caseShunts(patientCase, rules);
  const closure = closureTable({
    vessels: lesion.vessels,
    shunt: shunts.closureShunt,
    draws: shunts.headline.draws,
    case: patientCase,
    rules,
    ...(isNoneOpen(patientCase) && { sets: [] }),
  });
  const { allergies } = patientCase.patient;
  const toClose = feedersToClose(lesion);
  const devices = planDevices(toClose, {
    shelf,
    allergies,
    today: today.date,
    plannedDate: patientCase.planned.date,
    rules,
  });
  const surgery = planB(patientCase, lesion, rules);
  const kind = lesionKind(patientCase);
  const input: PlanInput = {
    case: patientCase,
    rules,
    lesion,
    lesionKind: kind.kind,
    baseline: shunts.baseline,
    shunt: shunts.before.shunt,
    shuntAfter: shunts.after.shunt,
    closure: closure.rows,
    devices: devices.devices,
    stock: stockToday(toClose, { shelf, allergies, rules }),
    resection: surgery.resection,
    nickelByCode: new Map((shelf?.devices ?? []).map((d) => [d.code, d.nickel ?? 'unknown'])),
    today: today.date,
    missed: basis.missed,
    surfaceStops: concernsOfStops(basis.findings),
  };
  const checklist = buildChecklist(input);
  const readiness = planReadiness({ ...input, orderList: devices.orderList, bestToday: devices.bestToday });
  const urgent = urgentPlan({ ...input, lesion, shelf, order: closure.order });
  const findings = [
    ...basis.findings,
    ...(basis.printFindings ?? []),
    ...shunts.findings,
    ...closure.findings,
    ...landingFindings(lesion),
    // the vein of a closed lesion shrinks
    ...(shunts.baseline === 'before' ? roleDoubt(lesion.vessels, rules.measure.feederDrainRatio) : []),
    ...devices.findings,
    ...surgery.findings,
    ...dateFindings(patientCase, today.date, rules),
    ...scanAdvice(patientCase, lesion.vessels, rules),
    ...checklist.findings,
    ...readiness.findings,
    ...urgent.findings,
  ];
  return { today, shunts, closure, devices, surgery, kind, input, checklist, readiness, urgent, findings };
}

function resultOf(basis: PlanBasis, parts: Parts): Result {
  const { case: patientCase, lesion, rules } = basis;
  const { shunts, closure } = parts;
  const { before, after, change, baseline } = shunts;
  return withoutUndefined<Result>({
    format: 'pavm-result/1',
    case: patientCase.id,
    title: patientCase.title,
    purpose: patientCase.purpose,
    scan_date: patientCase.scan.date,
    scan: basis.scan,
    frame: basis.frame,
    proposal: basis.proposal,
    ...scanWitness(basis),
    frame_axes: patientCase.surfaces?.frame,
    tool: toolOf(basis.version, rules),
    today: parts.today,
    inputs: basis.inputs,
    lesion: lesionResult(patientCase, lesion, parts.kind),
    sac: sacResult(lesion),
    left_out: leftOutResult(lesion),
    vessels: vesselResults(lesion, patientCase),
    unnamed_ends: unnamedResult(lesion),
    mended: mendedResult(lesion),
    neighbours: neighboursResult(lesion),
    baseline,
    shunt: before.shunt,
    shunt_after: after.shunt,
    shunt_change: change && { change: change.change, interval: change.interval },
    closure: closure.rows,
    closure_order: closure.order,
    devices: parts.devices.devices,
    pulmonary_pressure: pressureOf(patientCase, shunts, rules),
    urgent: parts.urgent.urgent,
    resection: parts.surgery.resection,
    readiness: parts.readiness.readiness,
    print: basis.print,
    print_absent_because: basis.printAbsentBecause,
    checklist: parts.checklist.checklist,
    findings: uniqueFindings(parts.findings),
    cautions: [...STANDING_CAUTIONS],
  });
}

/** Feeders without a landing zone, and zones in a flare. */
function landingFindings({ vessels }: Pick<LesionMeasure, 'vessels'>): Finding[] {
  return vessels
    .filter(({ role }) => role === 'feeder')
    .flatMap(({ name, landing, landingAbsentBecause }) => [
      ...(landingAbsentBecause
        ? [finding('caution', 'landing-zone-absent', name, `No landing zone: ${landingAbsentBecause}.`)]
        : []),
      ...(landing?.inFlare
        ? [
            finding(
              'caution',
              'landing-in-flare',
              name,
              `The landing zone is in a flare: too little of it has an even calibre, so its ends were not trimmed and it tapers by ${fixed(landing.taperPercent, 0)} %. Size the device at its widest and narrowest places.`,
            ),
          ]
        : []),
    ]);
}

/** The operation of plan B with the lung function after it. */
function planB(
  patientCase: Case,
  lesion: LesionMeasure,
  rules: Rules,
): { resection: NonNullable<Result['resection']>; findings: Finding[] } {
  const count = countResection(patientCase.lesion, patientCase.surgery);
  const lungFunction = predictLungFunction({ count, spirometry: patientCase.patient.spirometry, rules });
  const { resection, findings } = planResection({
    case: patientCase,
    count,
    lesion,
    rules,
    lungFunction: {
      fev1Percent: lungFunction.predicted_fev1_percent,
      dlcoPercent: lungFunction.predicted_dlco_percent,
    },
  });
  return {
    resection: {
      ...resection,
      ...lungFunction,
      lung_sparing: lungSparingOffer(patientCase, count, lungFunction, rules),
    },
    findings,
  };
}

/** The program and the rules that a result depends on. */
export const toolOf = (version: string, rules: Rules): Result['tool'] => ({
  name: 'pavm-planner',
  version,
  rule_set: rules.hash,
  local_rules: localRules(rules),
});

/** The measured pressures before closure; undefined without one. */
export function pressureOf(
  { circulation }: Pick<Case, 'circulation'>,
  { headline }: Pick<CaseShunts, 'headline'>,
  rules: Rules,
): Result['pulmonary_pressure'] {
  const pressure = judgePressure(circulation, headline.shunt, rules);
  return (
    pressure && {
      reading: pressure.reading,
      class: pressure.class,
      resistance_wu: pressure.resistanceWu,
      bed_resistance_wu: pressure.bedResistanceWu,
      bed_resistance_interval_wu: pressure.bedIntervalWu,
      text: pressure.text,
    }
  );
}

/** The rules that came from the hospital's own files; undefined without any. */
function localRules(rules: Rules): Result['tool']['local_rules'] {
  if (rules.overlay.length === 0) return undefined;
  return rules.overlay.map((file) => ({
    file,
    rules: rules.list.filter((rule) => rule.origin === file).map((rule) => rule.id),
  }));
}

/** Findings in the order they were made, each once; the report sorts them by level. */
export function uniqueFindings(findings: readonly Finding[]): Finding[] {
  const seen = new Set<string>();
  return findings.filter((f) => {
    const key = JSON.stringify([f.id, f.level, f.where, f.text]);
    if (seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}

/** The same value without keys that are undefined: anything that cannot be computed is left out. */
export function withoutUndefined<T>(value: T): T {
  if (Array.isArray(value)) return value.map(withoutUndefined) as T;
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(
    Object.entries(value).flatMap(([k, v]) => (v === undefined ? [] : [[k, withoutUndefined(v)]])),
  ) as T;
}
