import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { isMap, isScalar, isSeq } from 'yaml';
import { InputFailure } from '../foundation/failure.js';
import type { Finding } from '../foundation/finding.js';
import { type Condition, ruleNumbersOf } from './condition.js';
import { limitsOutOfOrder } from './ordered-limits.js';
import { readRule } from './read-rule.js';
import { type MeasureValues, numberOf, type Rule, type Rules } from './rule.js';
import { entries, parseRuleText, problem, textAt } from './rule-node.js';
import { type RuleFile, readRulesFolder } from './rules-folder.js';
import { placesOf } from './template.js';

/** Built-in rule files, in the order their rules are applied. */
const FILES = [
  'measure.yaml',
  'gases.yaml',
  'device-fit.yaml',
  'surgical-steps.yaml',
  'readiness.yaml',
  'sessions.yaml',
  'risk-items.yaml',
  'counselling.yaml',
  'urgent.yaml',
  'print-process.yaml',
  'compare.yaml',
  'register.yaml',
  'scan.yaml',
];

const FORMAT = 'pavm-rules/1';

/**
 * Reads the built-in rules and, where given, the rule files of a hospital: see `readRulesFolder`.
 * A rule of the overlay takes the place of the built-in rule of the same id (kind and unit must stay) or is added.
 * Throws InputFailure (exit code 2) with one line for each fault: `FILE:LINE:COLUMN what is wrong`.
 */
export function loadRules(overlayDir?: string): Rules {
  if (overlayDir === undefined) return withOverlay(builtInRules(), []);
  const { files, findings } = readRulesFolder(overlayDir);
  return withOverlay(builtInRules(), files, findings);
}

/** The build parses the built-in rules beforehand (`build/precompile.mjs`); from the sources they are parsed now. */
function builtInRules(): Rule[] {
  const parsed = new URL('built-in.json', import.meta.url);
  if (existsSync(parsed)) return JSON.parse(readFileSync(parsed, 'utf8')) as Rule[];
  return parsedBuiltIn(
    FILES.map((name) => ({
      name,
      text: readFileSync(fileURLToPath(new URL(name, import.meta.url)), 'utf8'),
    })),
  );
}

function parsedBuiltIn(files: readonly RuleFile[]): Rule[] {
  const problems: string[] = [];
  const byId = new Map<string, Rule>();
  for (const file of files) addFile(file, 'built-in', byId, problems);
  if (problems.length > 0) throw new InputFailure(2, problems);
  return [...byId.values()];
}

/** The rules of built-in and overlay texts; the pure part of `loadRules`, with the same failures. */
export function rulesFromText(builtIn: readonly RuleFile[], overlay: readonly RuleFile[]): Rules {
  return withOverlay(parsedBuiltIn(builtIn), overlay);
}

/** Rules that are read already, and an overlay's files over them; the failures of `loadRules`. */
export function withOverlay(
  builtIn: readonly Rule[],
  overlay: readonly RuleFile[],
  findings: readonly Finding[] = [],
): Rules {
  const problems: string[] = [];
  const byId = new Map(builtIn.map((rule) => [rule.id, rule]));
  const ours = new Map(byId);
  for (const file of overlay) addFile(file, file.name, byId, problems, ours);
  const list = [...byId.values()];
  checkRuleNumbers(list, byId, problems);
  if (problems.length === 0) problems.push(...limitsOutOfOrder({ byId }));
  if (problems.length > 0) throw new InputFailure(2, problems);
  const measure = measureValues({ byId });
  return { list, byId, measure, hash: hashOf(list), overlay: overlay.map((file) => file.name), findings };
}

function addFile(
  file: RuleFile,
  origin: string,
  byId: Map<string, Rule>,
  problems: string[],
  replaceable: ReadonlyMap<string, Rule> = new Map(),
): void {
  const parsed = parseRuleText(file.name, file.text, problems, origin === 'built-in');
  if (parsed === undefined) return;
  const { map, at } = parsed;
  const found = entries(at, map, ['format', 'rules'], 'a rule file');
  const format = textAt(at, found.get('format') ?? map, 'format');
  if (format !== undefined && format !== FORMAT)
    problem(at, found.get('format'), `format: "${FORMAT}" is needed.`);
  const rules = found.get('rules');
  if (!isSeq(rules)) {
    problem(at, rules ?? map, 'rules: a list of rules is needed.');
    return;
  }
  for (const node of rules.items) {
    const rule = readRule(at, node, origin);
    if (rule === undefined) continue;
    const idNode = isMap(node) ? node.get('id', true) : node;
    const before = byId.get(rule.id);
    if (before !== undefined && !(before === replaceable.get(rule.id))) {
      problem(at, idNode, `rule ${rule.id}: this id appears twice. Give each rule its own id.`);
    } else if (before !== undefined && before.kind !== rule.kind) {
      problem(
        at,
        idNode,
        `rule ${rule.id}: the rule it replaces is of kind ${before.kind}, not ${rule.kind}.`,
      );
    } else if (before?.kind === 'number' && rule.kind === 'number' && before.unit !== rule.unit) {
      const unitNode = isMap(node) ? node.get('unit', true) : node;
      problem(
        at,
        isScalar(unitNode) ? unitNode : node,
        `rule ${rule.id}: its unit is ${before.unit}, not ${rule.unit}.`,
      );
    } else {
      byId.set(rule.id, rule);
    }
  }
}

/** Conditions a rule holds, whatever its kind. */
export function conditionsOf(rule: Rule): Condition[] {
  const found: Condition[] = [];
  if ('when' in rule && rule.when !== undefined) found.push(rule.when);
  if (rule.kind === 'need' && rule.met !== undefined) found.push(rule.met);
  if (rule.kind === 'trigger' && rule.concerns !== undefined) found.push(rule.concerns);
  if (rule.kind === 'item')
    found.push(...(rule.concerns ? [rule.concerns] : []), ...rule.cases.flatMap((entry) => entry.when ?? []));
  return found;
}

/** Texts a rule holds, whatever its kind. */
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
