import { fixed } from '../foundation/number-text.js';
import { readShrinkage, type ShrinkageReading } from '../plan/follow-up-shrinkage.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { compareDecisions, type DecisionChange } from './decisions.js';
import { type Course, type FeederChange, feederChanges } from './feeders.js';
import { type Growth, growthOf, yearsBetween } from './growth.js';
import { matchVessels, type VesselMatch } from './match-vessels.js';
import { compareNumbers, type NumberChange } from './numbers.js';
import type { Overlay } from './overlay.js';
import { renameVessels } from './rename-vessels.js';
import { type TreatmentOutcome, treatmentOutcome } from './treatment-outcome.js';

/** One of the two plans, for the heading. */
export interface Side {
  case: string;
  title?: string;
  scanDate?: string;
  version: string;
  ruleSet: string;
}

/** Two plans of one lesion, compared. */
export interface Comparison {
  format: 'pavm-compare/1';
  old: Side;
  new: Side;
  /** From the old scan to the new one; undefined where a date is missing. */
  years?: number;
  verdict: 'plan stands' | 'plan changes';
  /** What makes the plan another one; empty where it stands. */
  because: string[];
  course: Course;
  notes: string[];
  vessels: VesselMatch[];
  feeders: FeederChange[];
  decisions: DecisionChange[];
  growth: Growth[];
  /** Only after a treatment. */
  shrinkage?: ShrinkageReading;
  shrinkageAbsentBecause?: string;
  /** What the treatment has done; only after one. */
  outcome?: TreatmentOutcome;
  numbers: NumberChange[];
  /** Only where it was asked for. */
  overlay?: Overlay;
  overlayAbsentBecause?: string;
}

export interface CompareOptions {
  rules: Rules;
  /** The lesion was treated between the two scans, which the gases of the new case may not say. */
  treated?: boolean;
}

/** Compares two results of one lesion. Pure: the same two results give the same comparison. */
export function compareResults(old: Result, now: Result, { rules, treated }: CompareOptions): Comparison {
  const { matches, notes } = matchVessels(old, now, rules);
  const renamed = renameVessels(now, displayNames(old, matches));
  const course = courseOf(old, now, treated);
  const numbers = compareNumbers(old, renamed);
  const years = yearsBetween(old.scan_date, now.scan_date);
  const decisions = compareDecisions(old, renamed);
  const feeders = feederChanges(old, now, matches, course, rules);
  const shrinkage = shrinkageOf(old, now, matches, course, rules);
  const outcome = treatmentOutcome(now, course, shrinkage.shrinkage, rules);
  const because = [
    ...feeders.map(({ name, what }) => `${name} ${FEEDER_WORDS[what]}`),
    ...(feeders.some(({ what }) => what === 'gone') && outcome && outcome.reading !== 'open'
      ? [`no feeder is left after the treatment (${outcome.reading})`]
      : []),
    ...decisions
      .filter(({ changesPlan }) => changesPlan)
      .map((one) => `${one.what}: ${one.old} to ${one.new}`),
  ];
  return {
    format: 'pavm-compare/1',
    old: sideOf(old),
    new: sideOf(now),
    ...(years !== undefined && { years }),
    verdict: because.length === 0 ? 'plan stands' : 'plan changes',
    because,
    course,
    notes: [...notes, ...provenance(old, now, years), ...unitSlip(old, now, matches)],
    vessels: matches,
    feeders,
    decisions,
    growth: growthOf(numbers, years, rules),
    ...shrinkage,
    ...(outcome && { outcome }),
    numbers,
  };
}

const FEEDER_WORDS: Record<FeederChange['what'], string> = {
  new: 'is a new feeder',
  back: 'carries blood again',
  gone: 'is no longer seen',
  'still-open': 'is still open after treatment',
};

/** `plan stands`, or `plan changes: ...` with everything that changes it. */
export function verdictLine({ verdict, because }: Comparison): string {
  return because.length === 0 ? verdict : `${verdict}: ${because.join('; ')}`;
}

function sideOf(result: Result): Side {
  return {
    case: result.case,
    ...(result.title !== undefined && { title: result.title }),
    ...(result.scan_date !== undefined && { scanDate: result.scan_date }),
    version: result.tool.version,
    ruleSet: result.tool.rule_set,
  };
}

/** Old names for vessels found by geometry; a new vessel under a name that stood for another one before is marked. */
function displayNames(old: Result, matches: readonly VesselMatch[]): Map<string, string> {
  const names = new Map<string, string>();
  for (const { oldName, newName } of matches) {
    if (newName === undefined) continue;
    const taken = oldName === undefined && Object.hasOwn(old.vessels, newName);
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

function provenance(old: Result, now: Result, years: number | undefined): string[] {
  const notes: string[] = [];
  const say = (holds: boolean, text: string): void => {
    if (holds) notes.push(text);
  };
  say(
    old.case !== now.case,
    `The case ids differ: ${old.case} and ${now.case}. Make sure that it is one patient and one lesion.`,
  );
  for (const key of ['side', 'lobe'] as const) {
    const [a, b] = [old.lesion[key], now.lesion[key]];
    say(
      a !== undefined && b !== undefined && a !== b,
      `The ${key} differs: ${a} and ${b}. These may be two lesions.`,
    );
  }
  if (years !== undefined)
    say(years < 0, 'The old scan is later than the new one: are the two swapped? No growth is computed.');
  else if (old.scan_date === undefined || now.scan_date === undefined)
    notes.push('A scan date is missing: no growth per year is computed.');
  say(
    old.tool.version !== now.tool.version,
    `The program's versions differ: ${old.tool.version} and ${now.tool.version}. Plan the old case again to be sure that a change is the lesion's.`,
  );
  say(
    old.tool.rule_set !== now.tool.rule_set,
    'The rule sets differ: a decision may have changed by its rule. Plan the old case again with the rules of today.',
  );
  const [before, after] = [old, now].map(
    ({ inputs }) => new Map(inputs.map(({ path, sha256 }) => [path, sha256])),
  );
  const same = [...before].filter(([path, hash]) => after.get(path) === hash).map(([path]) => path);
  const meshes = same.filter((path) => !/\.ya?ml$/.test(path));
  if (same.length > 0 && same.length === before.size && same.length === after.size)
    notes.push('Both plans rest on the same files, byte for byte.');
  else if (meshes.length > 0) notes.push(`The same file in both, byte for byte: ${meshes.join(', ')}.`);
  return notes;
}

/** Ratios between length units that a wrong `surfaces.unit` makes, and how near to one counts. */
const UNIT_RATIOS = [
  ['cm and mm', 10],
  ['inch and mm', 25.4],
  ['m and mm', 1000],
] as const;
const UNIT_SLACK = 0.15;

/** All lengths off by the same factor of a unit: no lesion does that. */
function unitSlip(old: Result, now: Result, matches: readonly VesselMatch[]): string[] {
  const ratios = matches.flatMap(({ oldName, newName }) =>
    oldName === undefined || newName === undefined
      ? []
      : [now.vessels[newName].calibre_mm.mean / old.vessels[oldName].calibre_mm.mean],
  );
  if (ratios.length === 0) return [];
  const slip = UNIT_RATIOS.find(([, factor]) =>
    ratios.every((ratio) => Math.abs(Math.log(ratio > 1 ? ratio / factor : ratio * factor)) < UNIT_SLACK),
  );
  if (slip === undefined) return [];
  return [
    `Every calibre differs by a factor of about ${slip[1]}, as between ${slip[0]}: check surfaces.unit of both cases. Nothing below can be trusted until that is settled.`,
  ];
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
          : 'both scans lie after the treatment; compare with the scan before it',
    };
  const drains = matches.filter(({ role, oldName, newName }) => role === 'drain' && oldName && newName);
  // of several veins the one that shrank least speaks for the lesion
  const veins = drains
    .map(({ oldName, newName }) => ({
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

/** Years in words, for the report. */
export function yearsText(years: number): string {
  return Math.abs(years) < 1 ? `${fixed(years * 12, 1)} months` : `${fixed(years, 2)} years`;
}
