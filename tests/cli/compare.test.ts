import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { run } from '../../src/cli/commands/compare.js';
import type { CompareCommandOptions } from '../../src/cli/compare/compare-options.js';
import { resultJson } from '../../src/report/result-json.js';
import { lesionOf, resultOfCase, writeCase } from '../compare/make-case.js';
import { IS_LONG } from '../long-tests.js';
import { capture } from './capture.js';
import { folderHash, pavm } from './run-pavm.js';

vi.mock('../../src/cli/measure/measure-case.js', async (original) =>
  (await import('./measure-once.js')).measuringOnce(original),
);

vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('./measure-once.js')).printingNothing(original),
);

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
  it('accepts a case, a plan folder or a result file', async () => {
    const sides = [caseFolder, join(caseFolder, 'case.yaml'), planFolder, join(planFolder, 'result.json')];
    for (const side of sides) {
      const { code, out, err } = await compare([side, planFolder]);
      expect([code, err]).toEqual([0, '']);
      expect(out).toContain(
        '**Verdict: plan stands, unchanged; caution: both plans use the same files, byte for byte.**',
      );
    }
  });

  it('exits with 1 where the plan changes, as JSON or in a file', async () => {
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

  it('overlays the new scan on the old, with pictures next to the document; the program writes the same bytes', async () => {
    const later = writeCase(join(base, 'grown'), lesionOf({ sac: 1.2, shift: [5, -9, 14] }), {
      noiseMm: 0.05,
    });
    const out = join(base, 'over', 'change.md');
    const args = [caseFolder, later, '--overlay', '--out', out];
    const ran = pavm(['compare', ...args]);
    expect(ran.stderr).toContain('The comparison is in');
    const text = readFileSync(out, 'utf8');
    expect(text).toContain(
      'the pose depends on the vessels that both scans have (A1, A2, V1), without the sac',
    );
    expect(text).toMatch(/\| sac +\| \+\d\.\d\d mm/);
    const figures = [...text.matchAll(/!\[.*?\]\((.*?)\)/g)].map((match) => match[1]);
    expect(figures).toEqual(['change-new-on-old.svg', 'change-old-under-new.svg']);
    for (const name of figures)
      expect(readFileSync(join(base, 'over', name), 'utf8')).toContain('Distance, mm');
    const before = folderHash(join(base, 'over'));
    if (IS_LONG) {
      expect(pavm(['compare', ...args]).code).toBe(ran.code);
      expect(folderHash(join(base, 'over'))).toEqual(before);
    }
    const { overlay } = JSON.parse((await compare([caseFolder, later], { overlay: true, json: true })).out);
    const shift = overlay.pose.translation_mm;
    for (const [k, moved] of [5, -9, 14].entries()) expect(Math.abs(shift[k] + moved)).toBeLessThan(1.5);
    expect(overlay).toMatchObject({ figures: [], converged: true, limit_mm: 0.8 });
    expect(overlay.rows.find((row: { name: string }) => row.name === 'sac').mean_mm).toBeGreaterThan(1);
  }, 300_000);

  it('finds the case next to a plan folder if it is the one that was planned, otherwise says why not', async () => {
    const mine = writeCase(join(base, 'planned'), lesionOf());
    mkdirSync(join(mine, 'plan'));
    writeFileSync(join(mine, 'plan', 'result.json'), resultJson(await resultOfCase(mine)));
    const over = async (old: string) =>
      JSON.parse((await compare([old, mine], { overlay: true, json: true })).out);
    expect((await over(join(mine, 'plan'))).overlay.turn_deg).toBeLessThan(0.1);
    expect((await over(planFolder)).overlay_absent_because).toMatch(
      /^the surfaces of the old scan are not at hand: there is no usable case beside the plan folder/,
    );
    writeFileSync(join(base, 'alone.json'), readFileSync(join(planFolder, 'result.json')));
    expect((await over(join(base, 'alone.json'))).overlay_absent_because).toContain('a result file has none');
    writeCase(mine, lesionOf(), { noiseMm: 0.01 });
    const { out } = await compare([join(mine, 'plan'), mine], { overlay: true });
    expect(out).toMatch(/Not laid over: .*A1\.stl beside the plan folder is not the file that was planned/);
  }, 300_000);

  it.each([
    ['nothing', [], 2, 'name the old and the new plan'],
    ['only one side', ['a-plan'], 2, 'name the old and the new plan'],
    ['a side that does not exist', ['a-plan', 'nowhere'], 2, 'nowhere: there is no such file or folder'],
    ['a file that is not JSON', ['a-plan', 'bad.json'], 3, 'bad.json: this is not JSON'],
    ['JSON that is not a result', ['a-plan', 'other.json'], 3, 'not a result of this edition'],
    ['a damaged result', ['a-plan', 'damaged.json'], 3, 'does not fit its schema'],
    ['a folder without a case', ['a-plan', 'empty'], 2, 'contains no case file'],
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
