import type { Case, Shelf } from '../case/case.js';
import { bleedingState } from '../case/bleeding.js';
import type { FeederToClose } from '../devices/feeder.js';
import { planDevices } from '../devices/plan-devices.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { LesionMeasure, VesselMeasure } from '../geometry/measure.js';
import type { Result } from '../result/result.generated.js';
import { judge } from '../rules/condition.js';
import { numberOf, type Rules, ruleNumber, rulesOf } from '../rules/rule.js';
import { sourceText } from '../rules/source-text.js';
import { fillText } from '../rules/template.js';
import { type PlanInput, planFacts } from './readiness-facts.js';

type Urgent = NonNullable<Result['urgent']>;
type Stock = NonNullable<PlanInput['stock']>;

/**
 * Code of the device in stock that closes each feeder, each piece used once; a feeder without a fitting device has no code. Allergies are
 * respected unless that leaves open a feeder that the stock could close: in a bleed they must not cause delay.
 * Undefined without a shelf.
 */
export function stockToday(
  feeders: readonly FeederToClose[],
  context: { shelf?: Shelf; allergies?: readonly string[]; rules: Rules },
): Stock | undefined {
  const { shelf, allergies, rules } = context;
  if (shelf === undefined) return undefined;
  const inStock: Shelf = { ...shelf, devices: shelf.devices.filter((device) => (device.inStock ?? 0) > 0) };
  const choose = (without: readonly string[]): Stock =>
    Object.fromEntries(
      planDevices(feeders, { shelf: inStock, allergies: without, rules }).bestToday.map(
        ({ feeder, code }) => [feeder, code],
      ),
    );
  const respected = choose(allergies ?? []);
  const all = choose([]);
  return Object.keys(all).length > Object.keys(respected).length ? all : respected;
}

/** Whom to call in every case; also obstetrics if the patient is pregnant. */
const ALWAYS_CALLED = ['interventionist', 'surgeon', 'anaesthesia', 'blood_bank', 'hyperbaric_centre'];

export interface UrgentInput extends PlanInput {
  lesion: LesionMeasure;
  shelf?: Shelf;
  /** Feeders by descending share of flow, if known. */
  order: readonly string[];
}

/**
 * The data needed within the hour of a bleed: the feeders with the device in stock for each, balloon sizes, where to clamp, whom to call
 * and the first steps in order. Written for every case; `state` says whether the lesion is bleeding. Lengths mm.
 */
export function urgentPlan(input: UrgentInput): { urgent: Urgent; findings: Finding[] } {
  const { case: patientCase, lesion, rules, stock, shelf } = input;
  const measured = lesion.vessels.filter(({ role }) => role === 'feeder');
  const feeders = measured
    .toSorted((a, b) => rank(a, input.order) - rank(b, input.order) || widthOf(b) - widthOf(a))
    .map((vessel) => urgentFeeder(vessel, stock, rules));
  const first = feeders[0];
  const facts = planFacts(input);
  const steps = rulesOf(rules, 'urgent')
    .filter(
      (rule) => rule.when === undefined || judge(rule.when, facts, (id) => numberOf(rules, id)) === 'holds',
    )
    .map((rule) => ({
      id: rule.id,
      text: fillText(rule.text, facts, rules.byId),
      source: sourceText(rule.source),
    }));
  const urgent: Urgent = {
    state: bleedingState(patientCase.bleeding) === 'yes' ? 'bleeding' : 'standby',
    ...(first !== undefined && { feeder: first.name }),
    device_code: first?.device_code ?? null,
    ...(shelf?.asOf !== undefined && { stock_as_of: shelf.asOf }),
    feeders,
    ...(first?.balloon_mm !== undefined && { balloon_mm: first.balloon_mm }),
    clamp_site: clampSite(
      patientCase,
      measured.find(({ name }) => name === first?.name),
      rules,
    ),
    call: whomToCall(patientCase),
    steps,
  };
  return { urgent, findings: absentForABleed(patientCase) };
}

const rank = (vessel: VesselMeasure, order: readonly string[]): number => {
  const at = order.indexOf(vessel.name);
  return at < 0 ? order.length : at;
};

const widthOf = (vessel: VesselMeasure): number => vessel.landing?.calibreMm ?? vessel.calibreMm.mean;

function urgentFeeder(
  vessel: VesselMeasure,
  stock: Stock | undefined,
  rules: Rules,
): Urgent['feeders'][number] {
  const { landing } = vessel;
  const code = stock?.[vessel.name] ?? null;
  if (landing === undefined) return { name: vessel.name, device_code: code };
  const times = (id: string): number => rounded(numberOf(rules, id) * landing.calibreMm, 2);
  return {
    name: vessel.name,
    calibre_mm: rounded(landing.calibreMm, 3),
    ...(landing.calibreIntervalMm && { calibre_interval_mm: landing.calibreIntervalMm }),
    landing_length_mm: rounded(landing.lengthMm, 3),
    device_code: code,
    balloon_mm: [times('balloon-low'), times('balloon-high')],
  };
}

/** Where to clamp the artery, and how much of it is free there; the main artery of that side if no feeder has a landing zone. */
function clampSite({ lesion }: Case, vessel: VesselMeasure | undefined, rules: Rules): string {
  const main =
    lesion.side === undefined ? 'main pulmonary artery of the side' : `${lesion.side} main pulmonary artery`;
  const landing = vessel?.landing;
  if (vessel === undefined || landing === undefined)
    return `${main}, taped first; no landing zone was measured to clamp on`;
  const wanted = ruleNumber(rules, 'clamp-room');
  const middleMm = (landing.fromMm + landing.toMm) / 2;
  return (
    `${main}, taped first; then ${vessel.name} in the middle of its landing zone, ${fixed(middleMm, 1)} mm from its far end, ` +
    `${fixed(landing.lengthMm, 1)} mm of zone (two clamps and a cuff need ${wanted.value} ${wanted.unit})`
  );
}

function whomToCall({ team, patient }: Case): Urgent['call'] {
  const given = team ?? [];
  const wanted = [...ALWAYS_CALLED, ...(patient.pregnant === 'yes' ? ['obstetrics'] : [])];
  const absent = wanted.filter((role) => !given.some((entry) => entry.role === role));
  return [...given.map(({ role, contact }) => ({ role, contact })), ...absent.map((role) => ({ role }))];
}

/** One note that lists the data needed within the hour of a bleed that the case lacks. */
function absentForABleed(patientCase: Case): Finding[] {
  const { patient, blood } = patientCase;
  const absent = [
    ...whomToCall(patientCase).flatMap(({ role, contact }) =>
      contact === undefined ? [`team.${role}`] : [],
    ),
    ...(patient.bloodGroup === undefined ? ['patient.blood_group'] : []),
    ...(patient.weightKg === undefined ? ['patient.weight'] : []),
    ...(blood.haemoglobinGDl === undefined ? ['blood.haemoglobin'] : []),
    ...(patient.anticoagulated === undefined ? ['patient.anticoagulated'] : []),
    ...(patient.anticoagulated === 'yes' && patient.anticoagulant?.lastDose === undefined
      ? ['patient.anticoagulant (agent, dose, last_dose)']
      : []),
    ...(patient.pregnant === 'yes' && patient.gestationWeeks === undefined ? ['patient.gestation'] : []),
  ];
  if (absent.length === 0) return [];
  const text = `Missing for the hour of a bleed: ${absent.join(', ')}. Ask now.`;
  return [finding('note', 'urgent-incomplete', 'case', text)];
}
