import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type CompareCommandOptions, run } from '../../src/cli/commands/compare.js';
import { resultJson } from '../../src/report/result-json.js';
import { lesionOf, resultOfCase, writeCase } from '../compare/make-case.js';
import { capture } from './capture.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-compare-cli-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const compare = (args: string[], options: CompareCommandOptions = {}) =>
  capture((terminal) => run(args, options, terminal));

const caseFolder = join(base, 'a-case');
const planFolder = join(base, 'a-plan');
beforeAll(async () => {
  writeCase(caseFolder, lesionOf());
  mkdirSync(planFolder);
  writeFileSync(join(planFolder, 'result.json'), resultJson(await resultOfCase(caseFolder)));
});

describe('pavm compare', () => {
  it('takes a case, a plan folder or a result file alike', async () => {
    const sides = [caseFolder, join(caseFolder, 'case.yaml'), planFolder, join(planFolder, 'result.json')];
    for (const side of sides) {
      const { code, out, err } = await compare([side, planFolder]);
      expect([code, err]).toEqual([0, '']);
      expect(out).toContain('**Verdict: plan stands.**');
    }
  });

  it('ends with 1 where the plan changes, as JSON or in a file', async () => {
    const later = writeCase(join(base, 'later'), lesionOf({ A1: 0, sac: 0.9 }), { after: 300, unit: 'mm' });
    const json = await compare([planFolder, later], { json: true });
    expect(json.code).toBe(1);
    expect(JSON.parse(json.out)).toMatchObject({ verdict: 'plan changes', course: 'treated-between' });
    const out = join(base, 'new', 'change.md');
    const written = await compare([caseFolder, later], { out });
    expect([written.code, written.out]).toEqual([1, '']);
    expect(written.err).toMatch(/^plan changes: A1 is no longer seen/);
    expect(readFileSync(out, 'utf8')).toMatch(/^# Old and new plan/);
  });

  it.each([
    ['nothing', [], 2, 'name the old and the new plan'],
    ['one side', ['a-plan'], 2, 'name the old and the new plan'],
    ['a side that is not there', ['a-plan', 'nowhere'], 2, 'nowhere: it cannot be opened (ENOENT)'],
    ['no JSON', ['a-plan', 'bad.json'], 3, 'bad.json: this is no JSON'],
    ['another JSON', ['a-plan', 'other.json'], 3, 'no result of this edition'],
    ['a damaged result', ['a-plan', 'damaged.json'], 3, 'does not fit its schema'],
    ['a folder without a case', ['a-plan', 'empty'], 2, 'holds no case file'],
  ])('refuses %s', async (_, names, exitCode, message) => {
    writeFileSync(join(base, 'bad.json'), '{');
    writeFileSync(join(base, 'other.json'), 'null');
    writeFileSync(join(base, 'damaged.json'), '{"format": "pavm-result/1"}');
    mkdirSync(join(base, 'empty'), { recursive: true });
    await expect(compare(names.map((name) => join(base, name)))).rejects.toMatchObject({
      exitCode,
      message: expect.stringContaining(message),
    });
  });
});
