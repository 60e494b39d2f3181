import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';
import { loadRules } from '../../src/rules/load-rules.js';
import { rulesOf } from '../../src/rules/rule.js';
import { ROOT } from './documents.js';

/** What the code says about one id: its levels, and where the calls are. */
export interface MadeFinding {
  levels: Set<string>;
  at: string[];
}

const LEVELS = new Set(['stop', 'caution', 'note']);

/** Ids that a call builds from a value: the template with `*` for the value, and every id it can produce. */
const BUILT: Record<string, () => string[]> = {
  'sample-*-assumed': () => ['sample-when-assumed', 'sample-site-assumed'],
  'checklist-*': () =>
    rulesOf(loadRules(), 'item')
      .filter((item) => item.moment === 'planning' && item.cases.some((one) => one.level === 'stop'))
      .map((item) => `checklist-${item.id}`),
};

/**
 * Ids and levels of every `finding(level, id, ...)` in one source text, and of calls through a local function with the same
 * first two arguments. Values may be literals, a choice of two, or a constant of the file. Throws where an id cannot be read.
 */
export function findingsOfText(text: string, name: string): Map<string, MadeFinding> {
  const file = ts.createSourceFile(name, text, ts.ScriptTarget.ES2022, true);
  const constants = new Map<string, ts.Expression[]>();
  const parameters = new Set<string>();
  const calls: ts.CallExpression[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isVariableDeclaration(node) && ts.isIdentifier(node.name) && node.initializer)
      constants.set(node.name.text, [...(constants.get(node.name.text) ?? []), node.initializer]);
    if (ts.isParameter(node) && ts.isIdentifier(node.name)) parameters.add(node.name.text);
    if (ts.isCallExpression(node) && node.arguments.length >= 2) calls.push(node);
    ts.forEachChild(node, visit);
  };
  visit(file);
  const values = (node: ts.Expression): string[] | undefined => {
    if (ts.isStringLiteral(node) || ts.isNoSubstitutionTemplateLiteral(node)) return [node.text];
    if (ts.isConditionalExpression(node)) {
      const [yes, no] = [values(node.whenTrue), values(node.whenFalse)];
      return yes && no && [...yes, ...no];
    }
    if (ts.isTemplateExpression(node)) {
      const shape = node.head.text + node.templateSpans.map((span) => `*${span.literal.text}`).join('');
      return BUILT[shape]?.();
    }
    if (ts.isIdentifier(node)) {
      const known = constants.get(node.text)?.map(values);
      return known?.every((one) => one !== undefined) ? known.flatMap((one) => one ?? []) : undefined;
    }
    return undefined;
  };
  const made = new Map<string, MadeFinding>();
  for (const call of calls) {
    const [level, id] = call.arguments;
    const isFinding = call.expression.getText(file) === 'finding';
    const levels = values(level);
    if (!isFinding && !levels?.every((one) => LEVELS.has(one))) continue;
    const place = `${name}:${file.getLineAndCharacterOfPosition(call.getStart(file)).line + 1}`;
    const isHandedOn = (node: ts.Expression): boolean => ts.isIdentifier(node) && parameters.has(node.text);
    if (isHandedOn(level) && isHandedOn(id)) continue;
    if (level.getText(file) === 'rule.level' && id.getText(file) === 'rule.id') continue;
    for (const [eachLevel, eachId] of pairs(level, id, file)) {
      const ids = values(eachId);
      const itsLevels = values(eachLevel);
      if (ids === undefined || itsLevels === undefined)
        throw new Error(
          `${place}: this finding's level or id cannot be read: ${call.getText(file).slice(0, 80)}`,
        );
      for (const one of ids) {
        const entry = made.get(one) ?? { levels: new Set(), at: [] };
        for (const each of itsLevels) entry.levels.add(each);
        entry.at.push(place);
        made.set(one, entry);
      }
    }
  }
  return made;
}

/** Level and id as a pair: where one condition chooses both, its first level belongs to its first id. */
function pairs(
  level: ts.Expression,
  id: ts.Expression,
  file: ts.SourceFile,
): [ts.Expression, ts.Expression][] {
  const isOneChoice =
    ts.isConditionalExpression(level) &&
    ts.isConditionalExpression(id) &&
    level.condition.getText(file) === id.condition.getText(file);
  return isOneChoice
    ? [
        [level.whenTrue, id.whenTrue],
        [level.whenFalse, id.whenFalse],
      ]
    : [[level, id]];
}

let known: Map<string, MadeFinding> | undefined;

/** Every finding that the program can make with its own rules: from the source, and from rules that become findings. */
export function findingsOfProgram(): Map<string, MadeFinding> {
  known ??= readFindings(new URL('src', ROOT).pathname);
  return known;
}

function readFindings(folder: string): Map<string, MadeFinding> {
  const all = new Map<string, MadeFinding>();
  const add = (id: string, levels: Iterable<string>, at: readonly string[]): void => {
    const entry = all.get(id) ?? { levels: new Set(), at: [] };
    for (const level of levels) entry.levels.add(level);
    entry.at.push(...at);
    all.set(id, entry);
  };
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
    if (!entry.isFile() || !entry.name.endsWith('.ts')) continue;
    const path = join(entry.parentPath, entry.name);
    const text = readFileSync(path, 'utf8');
    // a call has a word or a level of its own
    if (!/finding\(|'(?:stop|caution|note)'/.test(text)) continue;
    for (const [id, made] of findingsOfText(text, path)) add(id, made.levels, made.at);
  }
  // advice of the kind if-none is printed inside no-device-fits and is not a separate finding
  for (const rule of rulesOf(loadRules(), 'advice'))
    if (rule.about !== 'if-none') add(rule.id, [rule.level], [`rule ${rule.id}`]);
  return all;
}
