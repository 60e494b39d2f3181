import type { Finding } from '../foundation/finding.js';
import type { Condition } from './condition.js';

/** The level of a rule that becomes a finding or a checklist item. */
type RuleLevel = 'stop' | 'caution' | 'note' | 'ok';

export type Moment = 'planning' | 'sign-in' | 'time-out' | 'sign-out' | 'after';

interface RuleBase {
  /** Unique over all files, kebab-case; never changes meaning. */
  id: string;
  text: string;
  /** Key of SOURCES, 'common practice, no source', 'definition of this tool', or `local: ...` in an overlay. */
  source: string;
  /** `built-in`, or the name of the overlay's file that replaced or added the rule. */
  origin: string;
}

/** One number with its unit: a definition, an allowance or a limit. */
export interface NumberRule extends RuleBase {
  kind: 'number';
  value: number;
  unit: string;
}

/** Device diameter as multiples of the landing calibre. */
export interface WindowRule extends RuleBase {
  kind: 'window';
  for: string;
  low: number;
  high: number;
}

/** Device kinds, the preferred first, if the condition holds; the first such rule decides. */
interface OrderRule extends RuleBase {
  kind: 'order';
  kinds: string[];
  when: Condition;
}

/** Becomes a finding, with the rule's id, if its condition holds. */
interface AdviceRule extends RuleBase {
  kind: 'advice';
  /** `if-none`: only if nothing on the shelf fits the feeder. */
  about: 'feeder' | 'if-none' | 'patient';
  level: Exclude<RuleLevel, 'ok'>;
  when: Condition;
}

/** One step of the operation. */
interface StepRule extends RuleBase {
  kind: 'step';
  lobes: string[];
  sides: string[];
  stage: string;
  /** The structure of the model that comes into view. */
  see: string[];
  when?: Condition;
}

/** A structure of the lobe to look for and to keep. */
interface KeepRule extends RuleBase {
  kind: 'keep';
  lobes: string[];
  sides: string[];
  name: string;
}

/** One checklist item: the first case whose condition holds decides. */
export interface ItemRule extends RuleBase {
  kind: 'item';
  moment: Moment;
  /** The item is left out if this is false, as it cannot concern the patient; if unknown, the item stays. */
  concerns?: Condition;
  /** It can wait while the lesion is bleeding, and is then a note. */
  waits: boolean;
  cases: { when?: Condition; level: RuleLevel; because: string }[];
  /** Used if no case could be judged because the case file lacks the data. */
  ask: { level: 'caution' | 'note'; because: string };
}

/** A row of the decision between embolising, resecting and discussing; the first that holds decides. */
export interface DecisionRule extends RuleBase {
  kind: 'decision';
  recommend: 'embolise' | 'resect' | 'discuss';
  when: Condition;
  /** Not asked while the lesion is bleeding. */
  elective: boolean;
  /** Never decides; if it holds, it is added to the rule that decides. */
  beside: boolean;
}

/** What makes the team change plans. */
interface TriggerRule extends RuleBase {
  kind: 'trigger';
  direction: 'a-to-b' | 'b-to-a' | 'stop-and-discuss';
  /** Left out if this is false: it cannot concern the patient. */
  concerns?: Condition;
  /** Whether this patient's own data already meet it; absent: it can only be judged on the day of treatment. */
  when?: Condition;
  because?: string;
}

/** Something that must be at hand. */
interface NeedRule extends RuleBase {
  kind: 'need';
  plan: 'a' | 'b';
  /** Holds: at hand. Fails: missing. Cannot be judged, or no condition: unknown until confirmed. */
  met?: Condition;
  /** The need only exists if this holds. */
  when?: Condition;
  missing?: string;
  /** The plan does not count as ready while it is unknown; otherwise it is only listed to be confirmed. */
  blocks: boolean;
}

/** A later visit or test; days count from the planned date. */
interface FollowUpRule extends RuleBase {
  kind: 'follow-up';
  fromDays?: number;
  toDays?: number;
  when?: Condition;
}

/** One sentence of the patient's sheet. */
interface SentenceRule extends RuleBase {
  kind: 'sentence';
  section: string;
  /** The same sentence for the parent of a child; without it the text serves both. */
  parent?: string;
  when?: Condition;
}

/** One step during a bleed, if its condition holds. */
interface UrgentRule extends RuleBase {
  kind: 'urgent';
  when?: Condition;
}

export type Rule =
  | NumberRule
  | WindowRule
  | OrderRule
  | AdviceRule
  | StepRule
  | KeepRule
  | ItemRule
  | DecisionRule
  | TriggerRule
  | NeedRule
  | FollowUpRule
  | SentenceRule
  | UrgentRule;

export type RuleKind = Rule['kind'];

/** Values on which the measurement depends; the shape of `MeasureDefinitions`. */
export interface MeasureValues {
  profileStepMm: number;
  neckCalibreRatio: number;
  neckSoftSlope: number;
  neckSoftMargin: number;
  gapCalibres: number;
  wayRatio: number;
  sacWidestRatio: number;
  sacLongestRatio: number;
  pieceShare: number;
  feederDrainRatio: number;
  landingMinimumMm: number;
  landingMinimumCalibres: number;
  landingVariation: number;
  flareSlope: number;
  flareErrors: number;
  flareWindowMm: number;
  flareWindowCalibres: number;
  flareCornerMm: number;
  largestNeckGapMm: number;
  viewLaoRaoReachDeg: number;
  viewCranCaudReachDeg: number;
}

/** All rules in force, in file order; rules that an overlay adds come after the built-in ones of their kind. */
export interface Rules {
  list: readonly Rule[];
  byId: ReadonlyMap<string, Rule>;
  measure: MeasureValues;
  /** sha256 of the rules' content, hexadecimal; the origin of a rule does not count. */
  hash: string;
  /** Names of the overlay's files, sorted; empty without an overlay. */
  overlay: readonly string[];
  /** Facts about the overlay's folder that a reader must know, such as files that were not read. */
  findings: readonly Finding[];
}

/**
 * A number rule, with its unit and source. Throws RangeError for an id that is in no file: a defect of this program, since an overlay can
 * replace rules but not remove any.
 */
export function ruleNumber(rules: Pick<Rules, 'byId'>, id: string): NumberRule {
  const rule = rules.byId.get(id);
  if (rule?.kind !== 'number') throw new RangeError(`no number rule is called ${id}`);
  return rule;
}

/** The value of a number rule; throws as `ruleNumber` does. */
export function numberOf(rules: Pick<Rules, 'byId'>, id: string): number {
  return ruleNumber(rules, id).value;
}

/** The rules of one kind, in order. */
export function rulesOf<K extends RuleKind>(
  rules: Pick<Rules, 'list'>,
  kind: K,
): Extract<Rule, { kind: K }>[] {
  return rules.list.filter((rule): rule is Extract<Rule, { kind: K }> => rule.kind === kind);
}
