import { createHash } from 'node:crypto';
import { InputFailure } from '../foundation/failure.js';
import type { Finding } from '../foundation/finding.js';
import { type Condition, ruleNumbersOf } from './condition.js';
import { limitsOutOfOrder } from './ordered-limits.js';
import { type MeasureValues, numberOf, type Rule, type Rules } from './rule.js';
import { placesOf } from './template.js';

/**
 * The rules in force from a list of read rules; `problems` are the faults found so far. `overlay` names the rule files that were laid over
 * the built-in ones, and `hash` is that of the list, if known. Throws InputFailure (2) with every fault, including wrong rule ids for
 * numbers and limits in the wrong order.
 */
export function rulesOf(
  list: readonly Rule[],
  {
    overlay = [],
    findings = [],
    problems = [],
    hash = hashOf(list),
  }: {
    overlay?: readonly string[];
    findings?: readonly Finding[];
    problems?: string[];
    hash?: string;
  } = {},
): Rules {
  const byId = new Map(list.map((rule) => [rule.id, rule]));
  checkRuleNumbers(list, byId, problems);
  if (problems.length === 0) problems.push(...limitsOutOfOrder({ byId }));
  if (problems.length > 0) throw new InputFailure(2, problems);
  const measure = measureValues({ byId });
  return { list, byId, measure, hash, overlay, findings };
}

/** Conditions of a rule, whatever its kind. */
export function conditionsOf(rule: Rule): Condition[] {
  const found: Condition[] = [];
  if ('when' in rule && rule.when !== undefined) found.push(rule.when);
  if (rule.kind === 'need' && rule.met !== undefined) found.push(rule.met);
  if (rule.kind === 'trigger' && rule.concerns !== undefined) found.push(rule.concerns);
  if (rule.kind === 'item')
    found.push(...(rule.concerns ? [rule.concerns] : []), ...rule.cases.flatMap((entry) => entry.when ?? []));
  return found;
}

/** Texts of a rule, whatever its kind. */
export function textsOf(rule: Rule): string[] {
  const found = [rule.text];
  if (rule.kind === 'trigger' && rule.because !== undefined) found.push(rule.because);
  if (rule.kind === 'need' && rule.missing !== undefined) found.push(rule.missing);
  if (rule.kind === 'item') found.push(...rule.cases.map((entry) => entry.because), rule.ask.because);
  if (rule.kind === 'sentence' && rule.parent !== undefined) found.push(rule.parent);
  return found;
}

function checkRuleNumbers(list: readonly Rule[], byId: ReadonlyMap<string, Rule>, problems: string[]): void {
  for (const rule of list) {
    const inTexts = textsOf(rule)
      .flatMap(placesOf)
      .filter((place) => place.startsWith('rule:'));
    const named = [
      ...conditionsOf(rule).flatMap(ruleNumbersOf),
      ...inTexts.map((place) => place.slice('rule:'.length)),
    ];
    for (const id of named) {
      if (byId.get(id)?.kind === 'number') continue;
      problems.push(`${rule.origin}: rule ${rule.id} names the number rule "${id}", which does not exist.`);
    }
  }
}

function measureValues(rules: Pick<Rules, 'byId'>): MeasureValues {
  const values = {
    profileStepMm: numberOf(rules, 'profile-step'),
    neckCalibreRatio: numberOf(rules, 'neck-calibre-ratio'),
    neckSoftSlope: numberOf(rules, 'neck-soft-slope'),
    neckSoftMargin: numberOf(rules, 'neck-soft-margin'),
    gapCalibres: numberOf(rules, 'profile-longest-gap'),
    wayRatio: numberOf(rules, 'longest-way'),
    sacWidestRatio: numberOf(rules, 'sac-widest-ratio'),
    sacLongestRatio: numberOf(rules, 'sac-longest-ratio'),
    pieceShare: numberOf(rules, 'piece-share'),
    feederDrainRatio: numberOf(rules, 'feeder-drain-ratio'),
    landingMinimumMm: numberOf(rules, 'landing-minimum-length'),
    landingMinimumCalibres: numberOf(rules, 'landing-minimum-calibres'),
    landingVariation: numberOf(rules, 'landing-variation'),
    flareSlope: numberOf(rules, 'landing-flare-slope'),
    flareErrors: numberOf(rules, 'landing-flare-errors'),
    flareWindowMm: numberOf(rules, 'landing-flare-window'),
    flareWindowCalibres: numberOf(rules, 'landing-flare-window-calibres'),
    flareCornerMm: numberOf(rules, 'landing-flare-corner'),
    largestNeckGapMm: numberOf(rules, 'largest-neck-gap'),
    viewLaoRaoReachDeg: numberOf(rules, 'view-lao-rao-reach'),
    viewCranCaudReachDeg: numberOf(rules, 'view-cranial-caudal-reach'),
  };
  const faults: string[] = [];
  const check = (holds: boolean, id: string, wanted: string): void => {
    if (!holds) faults.push(`${rules.byId.get(id)?.origin}: rule ${id}: ${wanted}.`);
  };
  check(
    values.profileStepMm >= 0.05 && values.profileStepMm <= 1,
    'profile-step',
    'a step of 0.05 to 1 mm is needed',
  );
  check(values.neckCalibreRatio > 1, 'neck-calibre-ratio', 'a ratio above 1 is needed');
  check(values.sacWidestRatio >= 1, 'sac-widest-ratio', 'a ratio of 1 or more is needed');
  check(values.sacLongestRatio >= 1, 'sac-longest-ratio', 'a ratio of 1 or more is needed');
  check(
    values.pieceShare > 0 && values.pieceShare <= 0.5,
    'piece-share',
    'a fraction above 0 up to 0.5 is needed',
  );
  check(values.feederDrainRatio > 0, 'feeder-drain-ratio', 'a ratio above 0 is needed');
  check(
    values.neckSoftMargin >= 0 && values.neckSoftMargin < values.neckCalibreRatio - 1,
    'neck-soft-margin',
    'less than what neck-calibre-ratio lies above 1 is needed',
  );
  check(values.landingVariation < 1, 'landing-variation', 'a fraction below 1 is needed');
  check(values.flareWindowMm >= 0.5, 'landing-flare-window', 'a length of 0.5 mm or more is needed');
  if (faults.length > 0) throw new InputFailure(2, faults);
  return values;
}

function hashOf(list: readonly Rule[]): string {
  return createHash('sha256')
    .update(JSON.stringify(list.map(canonical)))
    .digest('hex');
}

/** The rule with its keys in order and without its origin. */
function canonical(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(canonical);
  if (typeof value !== 'object' || value === null) return value;
  const keys = Object.keys(value)
    .filter((key) => key !== 'origin')
    .sort();
  return Object.fromEntries(keys.map((key) => [key, canonical((value as Record<string, unknown>)[key])]));
}
