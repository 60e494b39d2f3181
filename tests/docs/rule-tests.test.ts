import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { loadRules } from '../../src/rules/load-rules.js';
import type { RuleKind } from '../../src/rules/rule.js';
import { ROOT, textOf } from './documents.js';
import { findingsOfProgram } from './finding-ids.js';

// A rule or finding that no test mentions can be wrong unnoticed: each has a test, by its own id or by its line in
// tests/rules/rule-tests.yaml.

interface Registry {
  kinds: Partial<Record<RuleKind, string>>;
  families: { begins: string[]; test: string }[];
  rules: { test: string; rules: string[] }[];
  findings: { test: string; ids: string[] }[];
  open: { rules: string[]; findings: string[] };
}

const registry: Registry = parse(textOf('tests/rules/rule-tests.yaml'));
const rules = loadRules().list;
const made = [...findingsOfProgram().keys()];

/** Every word of all tests except those of the documents; an id is one word. */
const WORDS = new Set(
  readdirSync(new URL('tests', ROOT), { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.(ts|csv)$/.test(name) && !/^(docs|golden|mutants|bench)/.test(name))
    .map((name) => readFileSync(join(new URL('tests', ROOT).pathname, name), 'utf8'))
    .flatMap((text) => text.match(/[\w-]+/g) ?? []),
);
const isNamed = (id: string): boolean => WORDS.has(id);

let trace: {
  readTrace: () => { lines: { source: string[] }[]; patientLines: { source: string[] }[] };
  problemsOfTest: (name: string, test: string, read: (path: string) => string | undefined) => string[];
};
beforeAll(async () => {
  trace = await import(new URL('src/build/trace.mjs', ROOT).href);
});

/** Ids without a test of their own or a line in the registry or the trace. */
function withoutTest(): string[] {
  const { lines, patientLines } = trace.readTrace();
  const known = new Set([
    ...registry.rules.flatMap((line) => line.rules),
    ...[...lines, ...patientLines].flatMap(({ source }) => source),
  ]);
  const inFamily = (id: string): boolean =>
    registry.families.some(({ begins }) => begins.some((start) => id.startsWith(start)));
  return rules
    .filter(({ id, kind }) => !(isNamed(id) || known.has(id) || inFamily(id) || registry.kinds[kind]))
    .map(({ id }) => id);
}

describe('tests of rules and findings', () => {
  it('every rule has one, or is listed as open', () => {
    expect(withoutTest().sort()).toEqual([...registry.open.rules].sort());
  });

  it('every finding has one, or is listed as open', () => {
    const seen = new Set(registry.findings.flatMap(({ ids }) => ids));
    const missing = made.filter((id) => !seen.has(id) && !isNamed(id));
    expect(missing.sort()).toEqual([...registry.open.findings].sort());
    expect([...seen].filter((id) => !made.includes(id))).toEqual([]);
  });

  it('the list of open ones does not grow', () => {
    expect(registry.open.rules.length).toBeLessThanOrEqual(MOST_OPEN_RULES);
    expect(registry.open.findings.length).toBeLessThanOrEqual(MOST_OPEN_FINDINGS);
  });

  it('every test in the registry exists, and every rule that it names', () => {
    const tests = [
      ...Object.values(registry.kinds),
      ...[registry.families, registry.rules, registry.findings].flatMap((part) =>
        part.map(({ test }) => test),
      ),
    ];
    const read = (path: string): string | undefined => {
      try {
        return textOf(path);
      } catch {
        return undefined;
      }
    };
    expect(tests.flatMap((test) => trace.problemsOfTest('registry', test, read))).toEqual([]);
    const ids = new Set(rules.map(({ id }) => id));
    expect(registry.rules.flatMap((line) => line.rules).filter((id) => !ids.has(id))).toEqual([]);
    const kinds = new Set(rules.map(({ kind }) => kind));
    expect(Object.keys(registry.kinds).filter((kind) => !kinds.has(kind as RuleKind))).toEqual([]);
  });
});

/** They may only become fewer. */
const MOST_OPEN_RULES = 0;
const MOST_OPEN_FINDINGS = 0;
