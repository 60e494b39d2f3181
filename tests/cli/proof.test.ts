import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { run } from '../../src/cli/commands/proof.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { printPackageOf } from '../../src/cli/plan/print-folder.js';
import { capture } from './capture.js';

vi.mock('../../src/cli/measure/measure-case.js', async (original) =>
  (await import('./measure-once.js')).measuringOnce(original),
);
vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('./measure-once.js')).printingOnce(original),
);

const folder = mkdtempSync(join(tmpdir(), 'proof-'));
afterAll(() => rmSync(folder, { recursive: true }));
const CASE = 'cases/heron';
const { gauges, model_id: modelId, handedness } = (await printPackageOf(await measureCase(CASE))).result;

let count = 0;
function readings(value: (mm: number, name: string) => string): string {
  const path = join(folder, `readings-${count++}.yaml`);
  const rows = gauges.map((g) => `  - { name: ${g.name}, value: "${value(g.expected_mm, g.name)}" }`);
  writeFileSync(
    path,
    `format: pavm-readings/1\ninstrument: digital caliper, 0.01 mm\nreadings:\n${rows.join('\n')}\n`,
  );
  return path;
}
const proof = (path: string, options = {}) => capture((t) => run([CASE], { readings: path, ...options }, t));
const mm = (x: number): string => `${x.toFixed(2)} mm`;

describe('pavm proof', () => {
  it('proves a true print with 0', async () => {
    const { code, out } = await proof(readings((x) => mm(x + 0.03)));
    expect(code).toBe(0);
    expect(out).toMatch(/^Print of heron: PROVED.* in size; whether it is mirrored was not checked$/m);
    expect(out).toMatch(/^Diameters: (\d+) readings of \1 points; bias 0\.03 mm/m);
    expect(out).toContain('Bland and Altman, Lancet 1986;327:307');
    expect(out).toContain('Not sterile. Not for choosing a device size on the model');
    expect(out).toContain('digital caliper, 0.01 mm');
  }, 180_000);

  it('exits with 1 on a print 2 % too large and says so, also as JSON', async () => {
    const path = readings((x) => mm(x * 1.02));
    const { code, out } = await proof(path);
    expect(code).toBe(1);
    expect(out).toContain('Scale error: the print is 2.');
    const json = JSON.parse((await proof(path, { json: true })).out);
    expect(json).toMatchObject({
      format: 'pavm-proof/1',
      case: 'heron',
      verdict: 'not-proved',
      scale_error: true,
    });
    expect(json.scale_error_percent).toBeCloseTo(2, 0);
    expect(json.readings).toHaveLength(gauges.length);
  }, 180_000);

  it('exits with 1 on diameters within tolerance but off, and says what that does to the devices', async () => {
    const diameters = new Set(gauges.filter((g) => g.kind === 'diameter').map((g) => g.name));
    const path = readings((x, name) => mm(diameters.has(name) ? x + 0.09 : x));
    const { code, out } = await proof(path);
    expect(code).toBe(1);
    expect(out).toMatch(/^Print of heron: BIASED/);
    expect(out).toMatch(/Bias: the diameters read 0\.09 mm too large/);
    expect(out).toMatch(
      /A1 would be taken for 5\.69 mm in place of 5\.6\d mm: the choice of \S+ would not change/,
    );
    const json = JSON.parse((await proof(path, { json: true })).out);
    expect(json).toMatchObject({ verdict: 'biased', device_effects: [{ vessel: 'A1' }] });
    expect(json.diameters.bias_interval_mm[0]).toBeGreaterThan(0);
    expect(json.spans.bias_mm).toBeCloseTo(0, 3);
  }, 180_000);

  it('exits with 3 on readings of another model; reports a file that names no model', async () => {
    const path = readings((x) => mm(x));
    const { err } = await proof(path);
    expect(err).toMatch(
      /caution readings-\d+\.yaml: The readings do not say which model.*model: [0-9A-F]{8}/,
    );
    const text = readFileSync(path, 'utf8');
    const named = join(folder, 'named.yaml');
    writeFileSync(named, text.replace('instrument', 'model: "00000000"\ninstrument'));
    await expect(proof(named)).rejects.toMatchObject({
      exitCode: 3,
      message: expect.stringMatching(
        /^named\.yaml:2:8 model: "00000000" is another model; this case gives [0-9A-F]{8}\./,
      ),
    });
    const turn = handedness!.turn;
    writeFileSync(named, text.replace('instrument', `model: "${modelId}"\nhandedness: ${turn}\ninstrument`));
    const known = await proof(named);
    expect(known.code).toBe(0);
    expect(known.err).not.toContain('do not say which model');
    expect(known.out).toMatch(/^Print of heron: PROVED: the print agrees with its model$/m);
  }, 180_000);

  it('recognises inches written as mm, and a single outlier', async () => {
    expect((await proof(readings((x) => mm(x / 25.4)))).out).toContain(
      'inches and millimetres were mixed up',
    );
    const one = await proof(readings((x, name) => mm(name === 'G5' ? x - 1.6 : x)));
    expect(one.code).toBe(1);
    expect(one.out).toContain('G5 alone disagrees');
    expect(one.out).toMatch(/^G5 .*OUT$/m);
  }, 180_000);

  it('accepts readings in inches with their unit', async () => {
    expect((await proof(readings((x) => `${(x / 25.4).toFixed(5)} inch`))).code).toBe(0);
  }, 180_000);

  it('exits with 3 on a faulty readings file, with the place; with 2 on a missing flag', async () => {
    const bad = join(folder, 'bad.yaml');
    writeFileSync(bad, 'format: pavm-readings/1\nreadings:\n  - { name: G1, value: 8.1 }\n');
    await expect(proof(bad)).rejects.toMatchObject({
      exitCode: 3,
      message: expect.stringMatching(/^bad\.yaml:3:24 readings\[0\]\.value: "8\.1" has no unit/),
    });
    await expect(proof(join(folder, 'none.yaml'))).rejects.toMatchObject({
      exitCode: 3,
      message: 'none.yaml: there is no such file. Give a readings file to --readings.',
    });
    await expect(proof(folder)).rejects.toMatchObject({ exitCode: 3 });
    await expect(capture((t) => run([CASE], {}, t))).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('--readings FILE'),
    });
    await expect(capture((t) => run([], { readings: bad }, t))).rejects.toMatchObject({ exitCode: 2 });
  }, 180_000);
});
