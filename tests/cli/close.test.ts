import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { type CloseOptions, closeCase, type MeasureCase } from '../../src/cli/commands/close.js';
import type { Closure } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { closureCaseOf, feedersOf, vesselOf } from '../physiology/make.js';
import { capture } from './capture.js';
import { pavm } from './run-pavm.js';

const patientCase: Case = {
  id: 'invented',
  purpose: 'demo',
  scan: {},
  planned: { approach: 'auto' },
  atHand: {},
  print: { scale: 1, hollow: false },
  expected: [],
  locate: (path) => `case.yaml:1:1 ${path}`,
  ...closureCaseOf(),
};
const measured: MeasureCase = async () => ({
  case: patientCase,
  rules: loadRules(),
  lesion: {
    vessels: [...feedersOf('6x60 4x60'), vesselOf('V1', 50, 9, 'drain'), vesselOf('B1', 20, 3, 'branch')],
    neighbours: [],
  },
  findings: async () => [],
});
const close = (args: string[], options: CloseOptions = {}, measure = measured) =>
  capture((terminal) => closeCase(['case.yaml', ...args], options, terminal, measure));
const rowsOf = async (args: string[], options: CloseOptions = {}): Promise<Closure[]> =>
  JSON.parse((await close(args, { ...options, json: true })).out);

describe('pavm close', () => {
  it('without names, works out every set and the lobe next to the present state', async () => {
    const { code, out } = await close([]);
    expect(code).toBe(0);
    const labels = out.split('\n').flatMap((line) => /^ {2}(\S.*?) {2,}[\d.]+ {2,}/.exec(line)?.[1] ?? []);
    expect(labels).toEqual(['nothing', 'A1', 'A2', 'A1 + A2', 'lobe']);
    expect(out).toContain('Order by benefit: A1, A2');
    expect(out).toContain('A1  83.5 %; 77.1 %');
    expect((await rowsOf([])).map((row) => row.closed)).toEqual([['A1'], ['A2'], ['A1', 'A2'], 'lobe']);
  });

  it('with names, closes them together in case order', async () => {
    const rows = await rowsOf(['A2', 'A1']);
    expect(rows).toHaveLength(1);
    expect(rows[0].closed).toEqual(['A1', 'A2']);
    expect(rows[0].shunt_fraction).toBe(0.027);
    expect((await rowsOf(['lobe']))[0].closed).toBe('lobe');
  });

  it('--occlusion closes partially', async () => {
    const [whole] = await rowsOf(['A1']);
    const [part] = await rowsOf(['A1'], { occlusion: '80 %' });
    expect(part.occlusion_percent).toBe(80);
    expect(part.shunt_fraction as number).toBeGreaterThan(whole.shunt_fraction as number);
  });

  it.each([
    [['B1'], {}, /B1 is a branch, not a feeder.*Feeders here: A1, A2/],
    [['A9'], {}, /A9 is not a vessel of this case/],
    [['lobe', 'A1'], {}, /not both/],
    [['A1'], { occlusion: '80' }, /--occlusion: "80" has no unit/],
    [['A1'], { occlusion: '0 %' }, /above 0/],
    [['A1'], { occlusion: '120 %' }, /up to 100 %/],
  ] as [string[], CloseOptions, RegExp][])('refuses %o %o', async (args, options, message) => {
    await expect(close(args, options)).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringMatching(message),
    });
  });

  it('needs a case', async () => {
    const nothing = capture((terminal) => closeCase([], {}, terminal, measured));
    await expect(nothing).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('needs a CASE'),
    });
  });

  it('without gases, says why nothing was computed', async () => {
    const without: MeasureCase = async (path, options) => ({
      ...(await measured(path, options)),
      case: { ...patientCase, gases: [] },
    });
    const { code, out, err } = await close([], {}, without);
    expect(code).toBe(1);
    expect(out).toMatch(/^Virtual closure: not computed, because the shunt is not known/);
    expect(err).toContain('caution gases: No arterial blood gas');
  });

  it('as a program, exits with 1 where a case without gases has no answer, and with 0 given gases', () => {
    const folder = mkdtempSync(join(tmpdir(), 'pavm-close-'));
    try {
      cpSync('cases/wren', folder, { recursive: true });
      expect(pavm(['close', folder, 'A1']).code).toBe(0);
      const file = join(folder, 'case.yaml');
      const text = readFileSync(file, 'utf8');
      writeFileSync(file, text.replace(/^gases:\n(?:[ #].*\n)+/m, ''));
      const { code, stdout } = pavm(['close', folder, 'A1', '--json']);
      expect(JSON.parse(stdout)[0].absent_because).toMatch(/^the shunt is not known/);
      expect(code).toBe(1);
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  });

  it('exits with 1 on severe pulmonary hypertension', async () => {
    const circulation = { cardiacOutputLMin: 5, meanPaPressureMmHg: 40, wedgePressureMmHg: 10 };
    const severe: MeasureCase = async (path, options) => ({
      ...(await measured(path, options)),
      case: { ...patientCase, circulation },
    });
    const { code, err } = await close(['A1'], {}, severe);
    expect(code).toBe(1);
    expect(err).toContain('stop circulation.mean_pa_pressure');
  });
});
