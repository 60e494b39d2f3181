import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { run, type ShuntOptions } from '../../src/cli/commands/shunt.js';
import type { Shunt } from '../../src/result/result.generated.js';
import { capture } from './capture.js';
import { pavm } from './run-pavm.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-shunt-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const FULL = readFileSync(new URL('../fixtures/cases/full.yaml', import.meta.url), 'utf8');

const shunt = (options: ShuntOptions, args: string[] = [], quiet = false) =>
  capture((terminal) => run(args, options, terminal), { quiet });
const json = async (options: ShuntOptions): Promise<Shunt> =>
  JSON.parse((await shunt({ ...options, json: true })).out);

const SAMPLE: ShuntOptions = {
  fio2: '1.0',
  po2: '210mmHg',
  pco2: '34mmHg',
  hb: '15g/dL',
  pressure: '712mmHg',
  minutes: '20',
};

describe('pavm shunt with flags', () => {
  it('prints the number first, then every step, what was assumed and cautions', async () => {
    const { code, out, err } = await shunt(SAMPLE);
    expect(code).toBe(0);
    // By hand: S(210) = 0.99749, 20.1 x 0.00251 + 0.0031 x 421 = 1.3556, 1.3556/6.3556.
    expect(out.split('\n')[0]).toMatch(
      /^Right-to-left shunt: 21\.3 % of cardiac output \(95 % interval [\d.]+ to [\d.]+ %\)$/,
    );
    expect(out).toContain('PAO2   = PB - PH2O - PaCO2 = 712.0 - 47.0 - 34.0 = 631.0 mmHg (84.1 kPa)');
    expect(out).toContain('CvO2   = CaO2 - 5.00');
    for (const heading of ['Steps', 'For comparison', 'Assumed', 'Cautions'])
      expect(out).toContain(`\n${heading}\n`);
    expect(err).toBe('');
  });

  it('--json prints only the object, the same each time', async () => {
    const first = await shunt({ ...SAMPLE, json: true });
    expect(JSON.parse(first.out)).toMatchObject({
      method: 'content',
      alveolar_po2_mmhg: 631,
      barometric_mmhg: 712,
    });
    expect(await shunt({ ...SAMPLE, json: true })).toEqual(first);
  });

  it('kPa, g/L, % and degF give the same as mmHg, g/dL, fractions and degC', async () => {
    const other = await json({
      ...SAMPLE,
      fio2: '100 %',
      po2: '27.99770134 kPa',
      pco2: '4.53296117 kPa',
      hb: '150 g/L',
      pressure: '94.92553984 kPa',
      temperature: '98.6 degF',
    });
    const plain = await json({ ...SAMPLE, temperature: '37degC' });
    expect(other.fraction).toBeCloseTo(plain.fraction as number, 5);
    expect(other.arterial_content_ml_dl).toBeCloseTo(plain.arterial_content_ml_dl as number, 3);
  });

  it('accepts mixed-venous gases and another difference', async () => {
    const venous = await json({ ...SAMPLE, pvo2: '40mmHg', svo2: '75%' });
    expect(venous.venous_content_ml_dl).toBeCloseTo(1.34 * 15 * 0.75 + 0.0031 * 40, 3);
    expect(venous.assumed.join()).not.toContain('arterio-venous difference');
    const other = await json({ ...SAMPLE, avDifference: '4.4mL/dL' });
    expect(other.av_difference_ml_dl).toBe(4.4);
    expect(other.sensitivity?.map((row) => row.av_difference_ml_dl)).toEqual([5]);
  });

  it('a short time on oxygen is a caution on stderr that names the flag', async () => {
    const { code, err } = await shunt({ ...SAMPLE, minutes: '10' });
    expect(code).toBe(0);
    expect(err).toMatch(/^caution --minutes: 10 min on 100 % oxygen/);
  });

  it('exits with 1 and no number for a PO2 above the alveolar one', async () => {
    const { code, out, err } = await shunt({ ...SAMPLE, po2: '700mmHg' });
    expect(code).toBe(1);
    expect(out).toMatch(/^Right-to-left shunt: not computed\n {2}because {2}PaO2 700.0 mmHg/);
    expect(err).toContain('stop --po2: ');
  });

  it('--quiet leaves notes out and keeps cautions', async () => {
    const options = { ...SAMPLE, minutes: undefined, pco2: undefined };
    const { err } = await shunt(options, [], true);
    expect(err).toMatch(/^caution --pco2: /);
    expect(err).not.toContain('note');
    expect((await shunt(options)).err).toContain('note --minutes');
  });
});

describe('pavm shunt refuses', () => {
  it.each([
    [{}, /needs blood gases as flags, or a CASE/],
    [{ po2: '210mmHg' }, /--fio2 is missing/],
    [{ fio2: '1.0' }, /--po2 is missing/],
    [{ ...SAMPLE, po2: '210' }, /--po2: "210" has no unit.*"210 mmHg" or "28 kPa"/],
    [{ ...SAMPLE, hb: '15' }, /--hb: "15" has no unit/],
    [{ ...SAMPLE, so2: '98' }, /--so2: "98" has no unit/],
    [{ ...SAMPLE, so2: '120%' }, /--so2: "120%" is outside 0 to 100 %/],
    [{ ...SAMPLE, fio2: '21' }, /--fio2: "21" is not a fraction/],
    [{ ...SAMPLE, fio2: '0' }, /--fio2/],
    [{ ...SAMPLE, ph: '7,4' }, /--ph: .*decimal comma/],
    [{ ...SAMPLE, po2: '-5mmHg' }, /--po2: the value is below zero/],
    [{ ...SAMPLE, avDifference: '0mL/dL' }, /--av-difference/],
    [{ ...SAMPLE, altitude: '540m' }, /--altitude and --pressure/],
  ] as [ShuntOptions, RegExp][])('%o', async (options, message) => {
    await expect(shunt(options)).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringMatching(message),
    });
  });

  it('a case and flags together, and two cases', async () => {
    await expect(shunt(SAMPLE, ['x.yaml'])).rejects.toMatchObject({ exitCode: 2 });
    await expect(shunt({}, ['x', 'y'])).rejects.toMatchObject({ exitCode: 2 });
    await expect(shunt({}, [join(base, 'none.yaml')])).rejects.toMatchObject({ exitCode: 2 });
  });
});

describe('pavm shunt with a case', () => {
  function folderOf(name: string, text: string): string {
    const folder = join(base, name);
    mkdirSync(folder);
    writeFileSync(join(folder, 'case.yaml'), text);
    return folder;
  }

  it('needs no mesh, reads a folder, and uses the values in the file', async () => {
    const { code, out } = await shunt({ json: true }, [folderOf('plain', FULL)]);
    expect(code).toBe(0);
    const answer = JSON.parse(out) as Shunt;
    expect(answer.sample).toBe('on-oxygen');
    expect(answer.barometric_mmhg).toBeCloseTo(712.59, 2);
    expect(answer.other_saturation?.basis).toBe('98.5 % as measured');
    // Oxygen uptake and output of the case were measured: Fick's difference is the answer, with the assumed ones alongside.
    expect(answer.av_difference_basis).toBe('fick');
    expect(answer.av_difference_ml_dl).toBe(3.75);
    expect(answer.sensitivity?.map((row) => row.av_difference_ml_dl)).toEqual([5, 4.4]);
  });

  it('findings name the line, and before and after give a change', async () => {
    const after = `  - { name: later, when: after, fio2: 1.0, minutes_on_oxygen: 12, site: arterial, po2: 560 mmHg, pco2: 36 mmHg, altitude: 540 m }
circulation:`;
    const untreated = FULL.replace(', treated: 2025-06-12', '');
    const { out, err } = await shunt({}, [
      folderOf('after', untreated.replace('\ncirculation:', `\n${after}`)),
    ]);
    // No date says whether the surfaces are from after the treatment too.
    expect(out).toMatch(/^Right-to-left shunt before treatment: /);
    expect(out).toContain('Right-to-left shunt after treatment: ');
    expect(out).toMatch(/Change after treatment: -[0-9.]+ points .*: a clear change\.\n$/);
    expect(err).toMatch(/case\.yaml:\d+:\d+ caution gases\[1\]\.minutes_on_oxygen: 12 min/);
  });

  it('says so where there are no gases', async () => {
    const text = FULL.replace(/gases:\n[\s\S]*?\ncirculation/, 'circulation');
    const { code, out, err } = await shunt({}, [folderOf('none', text)]);
    expect(code).toBe(1);
    expect(out).toBe('Right-to-left shunt: not computed. There is no arterial blood gas.\n');
    expect(err).toContain('caution gases: No arterial blood gas');
  });
});

describe('pavm shunt as a program', () => {
  const flags = '--fio2 1.0 --pco2 34mmHg --hb 15g/dL --pressure 712mmHg --minutes 20 --json'.split(' ');

  it('--json includes the findings, and the shunt fields stay at the top', () => {
    const { code, stdout } = pavm([
      'shunt',
      '--po2',
      '210mmHg',
      ...flags.map((f) => (f === '20' ? '10' : f)),
    ]);
    expect(code).toBe(0);
    const answer = JSON.parse(stdout);
    expect(answer).toMatchObject({ method: 'content', alveolar_po2_mmhg: 631 });
    expect(answer.fraction).toBeCloseTo(0.213, 2);
    expect(answer.findings).toContainEqual(
      expect.objectContaining({ id: 'oxygen-too-short', level: 'caution', where: '--minutes' }),
    );
    expect(JSON.parse(pavm(['shunt', '--po2', '210mmHg', ...flags]).stdout).findings).toEqual([]);
  });

  it('exits with 1 where it gives no shunt, with or without a stop-level finding', () => {
    // PaO2 above the alveolar PO2: a stop
    const stopped = pavm(['shunt', '--po2', '700mmHg', ...flags]);
    expect([stopped.code, JSON.parse(stopped.stdout).fraction]).toEqual([1, undefined]);
    // no haemoglobin below 150 mmHg: only a caution
    const none = pavm(['shunt', '--po2', '90mmHg', ...flags.filter((f) => f !== '--hb' && f !== '15g/dL')]);
    expect(none.code).toBe(1);
    const answer = JSON.parse(none.stdout);
    expect(answer.absent_because).toContain('Haemoglobin is missing');
    expect(answer.findings.map(({ id, level }: { id: string; level: string }) => `${id} ${level}`)).toContain(
      'shunt-absent caution',
    );
    expect(answer.findings.filter(({ level }: { level: string }) => level === 'stop')).toEqual([]);
  });

  it('has an answer for a case with samples from after treatment alone', () => {
    const folder = join(base, 'after-alone');
    mkdirSync(folder);
    writeFileSync(
      join(folder, 'case.yaml'),
      'format: pavm-case/1\nid: after-alone\nblood: { haemoglobin: 15 g/dL }\ngases:\n  - { name: later, when: after, fio2: 1.0, minutes_on_oxygen: 20, site: arterial, po2: 560 mmHg, pco2: 36 mmHg, altitude: 540 m }\n',
    );
    const { code, stdout } = pavm(['shunt', folder, '--json']);
    const answer = JSON.parse(stdout);
    expect(answer.when).toBe('after');
    expect(answer.fraction).toBeGreaterThan(0);
    expect(answer.shunt_after.fraction).toBe(answer.fraction);
    expect(answer.findings.map(({ id }: { id: string }) => id)).not.toContain('gases-absent');
    expect(code).toBe(0);
  });
});
