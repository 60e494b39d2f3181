import { readShrinkage, type ShrinkageReading } from '../plan/follow-up-shrinkage.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { compareDecisions, type DecisionChange } from './decisions.js';
import { type Course, type FeederChange, feederChanges } from './feeders.js';
import { type Growth, growthAbsentBecause, growthOf, yearsBetween } from './growth.js';
import { type LesionPose, lesionPose } from './lesion-pose.js';
import { type MatchedIn, matchVessels, type VesselMatch } from './match-vessels.js';
import { compareNumbers, type NumberChange } from './numbers.js';
import type { Overlay } from './overlay.js';
import { type OversizeChange, oversizeChanges } from './oversize.js';
import { areAxesKnown, placeLesion } from './placed-lesion.js';
import { placementRemarks } from './placement.js';
import { renameVessels } from './rename-vessels.js';
import { type Remarks, sameFiles, scanPair, unitSlip } from './scan-pair.js';
import { shuntTrendText } from './shunt-trend.js';
import { type TreatmentOutcome, treatmentOutcome } from './treatment-outcome.js';
import { type Verdict, verdictOf } from './verdict.js';
import { viewChanges } from './working-views.js';

/** One of the two plans, for the heading. */
export interface Side {
  case: string;
  title?: string;
  scanDate?: string;
  version: string;
  ruleSet: string;
}

/** Two plans of one lesion, compared. */
export interface Comparison extends Verdict {
  format: 'pavm-compare/1';
  old: Side;
  new: Side;
  /** From the old scan to the new one; undefined if a date is missing. */
  years?: number;
  course: Course;
  notes: string[];
  /** The pose of the new scan on the old one in which vessels were matched. */
  matchedIn: MatchedIn;
  /** Absent if the scans share no role of vessel. */
  placement?: Omit<LesionPose, 'pose'>;
  vessels: VesselMatch[];
  feeders: FeederChange[];
  decisions: DecisionChange[];
  oversize: OversizeChange[];
  growth: Growth[];
  growthAbsentBecause?: string;
  shuntTrend: string;
  /** Only after a treatment. */
  shrinkage?: ShrinkageReading;
  shrinkageAbsentBecause?: string;
  /** The outcome of the treatment; only after one. */
  outcome?: TreatmentOutcome;
  numbers: NumberChange[];
  /** Only on request. */
  overlay?: Overlay;
  overlayAbsentBecause?: string;
}

export interface CompareOptions {
  rules: Rules;
  /** The lesion was treated between the two scans, which the gases of the new case may not state. */
  treated?: boolean;
}

/** Compares two results of one lesion. Pure: the same two results give the same comparison. */
export function compareResults(old: Result, now: Result, { rules, treated }: CompareOptions): Comparison {
  const years = yearsBetween(old.scan_date, now.scan_date);
  const [oldLesion, newLesion] = [placeLesion(old), placeLesion(now)];
  const axesKnown = areAxesKnown(old, now);
  const placement = lesionPose(oldLesion, newLesion, axesKnown, rules);
  const canBeUsed = placement?.handedness === 'same' || placement?.handedness === 'undecided';
  const { matches, matchedIn } = matchVessels(oldLesion, newLesion, canBeUsed ? placement : undefined, rules);
  const renamed = renameVessels(now, displayNames(old, matches));
  const course = courseOf(old, now, treated);
  const numbers = compareNumbers(old, renamed);
  const decisions = [...compareDecisions(old, renamed), ...viewChanges(old, renamed, rules)];
  const oversize = oversizeChanges(old, renamed, rules);
  const feeders = feederChanges(old, now, matches, course, rules);
  const shrinkage = shrinkageOf(old, now, matches, course, rules);
  const outcome = treatmentOutcome(now, course, shrinkage.shrinkage, rules);
  const noGrowth = growthAbsentBecause(course, years, sameFiles(old, now).areAllSurfaces);
  const slip = unitSlip(old, now, matches);
  const pair = scanPair(old, now, years);
  // surfaces in different units fit in no pose, so that remark would add nothing
  const placed: Remarks = slip
    ? { obstacles: [slip], cautions: [], notes: [] }
    : placementRemarks(placement, axesKnown, matches, rules);
  return {
    format: 'pavm-compare/1',
    old: sideOf(old),
    new: sideOf(now),
    ...(years !== undefined && { years }),
    ...verdictOf({
      obstacles: placed.obstacles,
      reasons: [
        ...feeders.map(({ name, what }) => `${name} ${FEEDER_WORDS[what]}`),
        ...(feeders.some(({ what }) => what === 'gone') && outcome && outcome.reading !== 'open'
          ? [`no feeder is left after the treatment (${outcome.reading})`]
          : []),
        ...decisions
          .filter(({ changesPlan }) => changesPlan)
          .map((one) => `${one.what}: ${one.old} to ${one.new}`),
        ...oversize.filter(({ left }) => left === 'window').map(({ text }) => text),
      ],
      cautions: [
        ...placed.cautions,
        ...pair.cautions,
        ...decisions.flatMap(({ caution }) => caution ?? []),
        ...oversize.filter(({ left }) => left === 'interval').map(({ text }) => text),
      ],
      nothingElse:
        decisions.length === 0 && oversize.length === 0 && numbers.every(({ exceeds }) => !exceeds),
    }),
    course,
    notes: [...placed.notes, ...pair.notes],
    matchedIn,
    ...(placement && { placement: withoutPose(placement) }),
    vessels: matches,
    feeders,
    decisions,
    oversize,
    growth: noGrowth === undefined ? growthOf(numbers, years as number, rules) : [],
    ...(noGrowth !== undefined && { growthAbsentBecause: noGrowth }),
    shuntTrend: shuntTrendText(old, now),
    ...shrinkage,
    ...(outcome && { outcome }),
    numbers,
  };
}

const withoutPose = ({ pose: _, ...rest }: LesionPose): Omit<LesionPose, 'pose'> => rest;

const FEEDER_WORDS: Record<FeederChange['what'], string> = {
  new: 'is a new feeder',
  back: 'carries blood again',
  gone: 'is no longer seen',
  'not-measured': 'may be a feeder of the new case that could not be measured',
  'still-open': 'is still open after treatment',
};

function sideOf(result: Result): Side {
  return {
    case: result.case,
    ...(result.title !== undefined && { title: result.title }),
    ...(result.scan_date !== undefined && { scanDate: result.scan_date }),
    version: result.tool.version,
    ruleSet: result.tool.rule_set,
  };
}

/** Old names for vessels matched by geometry; a new vessel whose name previously meant another one is marked. */
function displayNames(old: Result, matches: readonly VesselMatch[]): Map<string, string> {
  const names = new Map<string, string>();
  for (const { oldName, newName } of matches) {
    if (newName === undefined) continue;
    const taken = Object.hasOwn(old.vessels, newName);
    names.set(newName, oldName ?? (taken ? `${newName} (new)` : newName));
  }
  return names;
}

function courseOf(old: Result, now: Result, treated: boolean | undefined): Course {
  if (treated) return 'treated-between';
  const [before, after] = [old.lesion.treated, now.lesion.treated];
  if (after !== undefined && old.scan_date !== undefined && after > old.scan_date) return 'treated-between';
  if (before !== undefined || old.shunt_after !== undefined) return 'treated-before';
  return after !== undefined || now.shunt_after !== undefined ? 'treated-between' : 'untreated';
}

function shrinkageOf(
  old: Result,
  now: Result,
  matches: readonly VesselMatch[],
  course: Course,
  rules: Rules,
): Pick<Comparison, 'shrinkage' | 'shrinkageAbsentBecause'> {
  if (course !== 'treated-between')
    return {
      shrinkageAbsentBecause:
        course === 'untreated'
          ? 'no treatment between the two scans is stated (blood gases after treatment, or --treated)'
          : 'both scans are from after the treatment; compare with the scan before it',
    };
  const drains = matches.filter(({ role, oldName, newName }) => role === 'drain' && oldName && newName);
  // if there are several veins, the one that shrank least counts
  const veins = drains
    .map(({ oldName, newName }) => ({
      name: oldName as string,
      before: old.vessels[oldName as string].calibre_mm.mean,
      after: now.vessels[newName as string].calibre_mm.mean,
    }))
    .sort((a, b) => b.after / b.before - a.after / a.before);
  const sac = old.sac && now.sac && { before: old.sac.longest_mm, after: now.sac.longest_mm };
  const reading = readShrinkage({ ...(veins[0] && { veinMm: veins[0] }), ...(sac && { sacMm: sac }) }, rules);
  return reading === undefined
    ? { shrinkageAbsentBecause: 'neither a draining vein nor the sac was measured on both scans' }
    : { shrinkage: reading };
}
