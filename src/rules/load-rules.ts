import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { isMap, isScalar, isSeq } from 'yaml';
import { InputFailure } from '../foundation/failure.js';
import type { Finding } from '../foundation/finding.js';
import { precompiledRules } from './precompiled-rules.js';
import { readRule } from './read-rule.js';
import type { Rule, Rules } from './rule.js';
import { entries, parseRuleText, problem, textAt } from './rule-node.js';
import { type RuleFile, readRulesFolder } from './rules-folder.js';
import { rulesOf } from './rules-of-list.js';

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
 * Reads the built-in rules and, if given, the rule files of a hospital: see `readRulesFolder`. A rule of the overlay replaces the built-in
 * rule of the same id (kind and unit must not change) or is added. Throws InputFailure (exit code 2) with one line for each fault:
 * `FILE:LINE:COLUMN what is wrong`.
 */
export function loadRules(overlayDir?: string): Rules {
  if (overlayDir === undefined) return withOverlay(builtInRules(), []);
  const { files, findings } = readRulesFolder(overlayDir);
  return withOverlay(builtInRules(), files, findings);
}

/** When running from the sources, without a build, the built-in rules are parsed now. */
const builtInRules = (): readonly Rule[] =>
  precompiledRules()?.list ??
  parsedBuiltIn(
    FILES.map((name) => ({
      name,
      text: readFileSync(fileURLToPath(new URL(name, import.meta.url)), 'utf8'),
    })),
  );

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

/** Rules that were already read, with an overlay's files over them; the same failures as `loadRules`. */
export function withOverlay(
  builtIn: readonly Rule[],
  overlay: readonly RuleFile[],
  findings: readonly Finding[] = [],
): Rules {
  const problems: string[] = [];
  const byId = new Map(builtIn.map((rule) => [rule.id, rule]));
  const ours = new Map(byId);
  for (const file of overlay) addFile(file, file.name, byId, problems, ours);
  const names = overlay.map((file) => file.name);
  return rulesOf([...byId.values()], { overlay: names, findings, problems });
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
