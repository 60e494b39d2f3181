import { isAlias, isMap, isScalar, isSeq, LineCounter, type Node, parseDocument, type YAMLMap } from 'yaml';
import { InputFailure } from '../foundation/failure.js';
import { parseLocatedYaml } from '../foundation/located-yaml.js';
import { nearestKey } from '../foundation/nearest-key.js';
import { refuseForeign } from '../foundation/own-format.js';
import { hasInvisible, quoted } from '../foundation/quoted-text.js';

/** A YAML text being read: its name for messages, and the problems found so far. */
export interface RuleText {
  file: string;
  problems: string[];
  counter: LineCounter;
}

/**
 * Parses one rule file; syntax errors, aliases and several documents are problems. Undefined: nothing to read. `trusted`: a file of our
 * own, which needs no protection against hostile YAML.
 */
export function parseRuleText(
  file: string,
  text: string,
  problems: string[],
  trusted: boolean,
): { map: YAMLMap; at: RuleText } | undefined {
  const counter = new LineCounter();
  const at: RuleText = { file, problems, counter };
  if (!trusted && !isSafe(file, text, problems)) return undefined;
  const document = parseDocument(text, { lineCounter: counter, prettyErrors: false, uniqueKeys: true });
  for (const error of document.errors) {
    const place = counter.linePos(error.pos[0]);
    problems.push(`${file}:${place.line}:${place.col} ${error.message.split('\n')[0]}`);
  }
  if (document.errors.length > 0) return undefined;
  if (!isMap(document.contents)) {
    problems.push(`${file}:1:1 a rule file is a map with the keys format and rules.`);
    return undefined;
  }
  return { map: document.contents, at };
}

/**
 * Rejects a file that does not name our format, and everything that the reader of hand-written YAML rejects: size, nesting, alias bombs,
 * duplicate keys, bad characters.
 */
function isSafe(file: string, text: string, problems: string[]): boolean {
  try {
    refuseForeign(text, file, { what: 'pavm rule file', format: 'pavm-rules/1', exitCode: 2 });
    parseLocatedYaml(text, file, { exitCode: 2 });
    return true;
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    problems.push(...error.problems);
    return false;
  }
}

/** Records a problem at a node (or at the first line if there is none). */
export function problem(at: RuleText, node: unknown, text: string): void {
  const offset = (node as Node | undefined)?.range?.[0];
  const place = offset === undefined ? { line: 1, col: 1 } : at.counter.linePos(offset);
  at.problems.push(`${at.file}:${place.line}:${place.col} ${text}`);
}

/** The values of a map by key; a key outside `known` is a problem with the nearest known key. */
export function entries(
  at: RuleText,
  map: YAMLMap,
  known: readonly string[],
  what: string,
): Map<string, unknown> {
  const found = new Map<string, unknown>();
  for (const pair of map.items) {
    const key = isScalar(pair.key) ? String(pair.key.value) : '';
    if (!known.includes(key)) {
      const hint = nearestKey(key, known);
      const help = hint === undefined ? `Known keys: ${known.join(', ')}.` : `Did you mean "${hint}"?`;
      problem(at, pair.key, `${what} has no key ${quoted(key)}. ${help}`);
    } else if (isAlias(pair.value)) {
      problem(at, pair.value, `${what}, ${key}: aliases are not read. Write the value out.`);
      found.set(key, undefined);
    } else {
      found.set(key, pair.value ?? undefined);
    }
  }
  return found;
}

/** A non-empty text in one line, or undefined with a problem; a control or other invisible character is one. */
export function textAt(at: RuleText, node: unknown, what: string): string | undefined {
  if (isScalar(node) && typeof node.value === 'string' && node.value.trim() !== '') {
    const line = node.value.trim().replace(/\s*\n\s*/g, ' ');
    if (!hasInvisible(line)) return line;
    problem(
      at,
      node,
      `${what}: ${quoted(line)} contains a control or invisible character. Write plain text.`,
    );
    return undefined;
  }
  problem(at, node, `${what}: a text is needed.`);
  return undefined;
}

/** A finite number, or undefined with a problem. */
export function numberAt(at: RuleText, node: unknown, what: string): number | undefined {
  if (isScalar(node) && typeof node.value === 'number' && Number.isFinite(node.value)) return node.value;
  const comma = isScalar(node) && typeof node.value === 'string' && /^\s*\d+,\d+\s*$/.test(node.value);
  problem(
    at,
    node,
    `${what}: a plain number is needed.${comma ? ' Write the decimal mark as a point.' : ''}`,
  );
  return undefined;
}

/** True or false; false with a problem for anything else. */
export function flagAt(at: RuleText, node: unknown, what: string): boolean {
  if (isScalar(node) && typeof node.value === 'boolean') return node.value;
  problem(at, node, `${what}: true or false is needed.`);
  return false;
}

/** One of a list of words, or undefined with a problem. */
export function wordAt<W extends string>(
  at: RuleText,
  node: unknown,
  words: readonly W[],
  what: string,
): W | undefined {
  const value = isScalar(node) ? node.value : undefined;
  const found = words.find((word) => word === value);
  if (found !== undefined) return found;
  const hint = typeof value === 'string' ? nearestKey(value, words) : undefined;
  problem(
    at,
    node,
    `${what}: one of ${words.join(', ')} is needed.${hint ? ` Did you mean "${hint}"?` : ''}`,
  );
  return undefined;
}

/** A list of such words; an empty list is a problem. */
export function wordsAt(at: RuleText, node: unknown, words: readonly string[], what: string): string[] {
  if (!isSeq(node) || node.items.length === 0) {
    problem(at, node, `${what}: a list of ${words.join(', ')} is needed.`);
    return [];
  }
  return node.items.flatMap((item) => wordAt(at, item, words, what) ?? []);
}
