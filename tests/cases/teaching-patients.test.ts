import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { run as grade } from '../../src/cli/commands/grade.js';
import { demoFiles } from '../../src/phantoms/demo-cases.js';
import { teachingPatients } from '../../src/phantoms/teaching-patients.js';
import { truthOfParts } from '../../src/phantoms/truth.js';
import { capture } from '../cli/capture.js';

vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('../cli/measure-once.js')).printingNothing(original),
);

vi.setConfig({ testTimeout: 180_000 });

const CASES = fileURLToPath(new URL('../../cases', import.meta.url));
const PATIENTS = ['avocet', 'godwit'];

interface PatientText {
  blood: { haemoglobin: string };
  gases: { when: string; po2: string; pco2: string; pressure: string }[];
  patient: { sex: string; age: string };
  expected: { value?: string; equals?: number | string; within?: number }[];
}
const textOf = (name: string): PatientText => parse(readFileSync(join(CASES, name, 'patient.yaml'), 'utf8'));
const keyOf = (name: string, value: string) =>
  textOf(name).expected.find((line) => line.value === value) as { equals: number; within: number };
const holds = (name: string, value: string, truth: number): void => {
  const { equals, within } = keyOf(name, value);
  expect(Math.abs(truth - equals), value).toBeLessThan(within / 2);
};

/** Content formula from the text alone: 1.34 mL/g, 0.0031 mL/dL/mmHg, water vapour 47 mmHg, Severinghaus (J Appl Physiol 1979;46:599). */
function shuntByHand({ blood, gases }: PatientText, when: string): number {
  const gas = gases.find((one) => one.when === when)!;
  const [po2, pco2, pressure, hb] = [gas.po2, gas.pco2, gas.pressure, blood.haemoglobin].map(
    Number.parseFloat,
  );
  const saturation = 1 / (23400 / (po2 ** 3 + 150 * po2) + 1);
  const lost = 1.34 * hb * (1 - saturation) + 0.0031 * (pressure - 47 - pco2 - po2);
  return lost / (lost + 5);
}

it('the meshes are those given by the lesions', () => {
  for (const demo of teachingPatients())
    for (const { path, bytes } of demoFiles(demo))
      expect(readFileSync(join(CASES, demo.folder, path)).equals(bytes), `${demo.folder}/${path}`).toBe(true);
});

describe('the keys against the truth of the lesions', () => {
  const truths = teachingPatients().map(({ folder, lesion }) => {
    const [patient, id] = folder.split('/');
    const feeders = Object.values(truthOfParts(lesion).vessels).filter(({ role }) => role === 'feeder');
    return { patient, id, feeders };
  });

  it('shunts by hand', () => {
    holds('avocet', 'shunt.fraction', shuntByHand(textOf('avocet'), 'before'));
    holds('godwit', 'shunt.fraction', shuntByHand(textOf('godwit'), 'before'));
    holds('godwit', 'shunt_after.fraction', shuntByHand(textOf('godwit'), 'after'));
  });

  it('calibres and shares by d^4 over length (Poiseuille)', () => {
    const flowOf = ({ calibreAt, lengthMm }: (typeof truths)[number]['feeders'][number]): number =>
      calibreAt(lengthMm / 2) ** 4 / lengthMm;
    const avocet = truths.filter(({ patient }) => patient === 'avocet');
    const all = avocet.flatMap(({ feeders }) => feeders).reduce((sum, one) => sum + flowOf(one), 0);
    for (const { id, feeders } of avocet) {
      holds(
        'avocet',
        `lesions.${id}.largest_feeder_mm`,
        Math.max(...feeders.map((f) => f.calibreAt(f.lengthMm / 2))),
      );
      holds('avocet', `lesions.${id}.flow_share`, feeders.reduce((sum, one) => sum + flowOf(one), 0) / all);
    }
  });
});

it.each(PATIENTS)('%s passes its key', async (name) => {
  const { code, out, err } = await capture((terminal) => grade([join(CASES, name)], {}, terminal));
  expect(code, out + err).toBe(0);
});

it('one of them is a man over fifty', () => {
  const men = PATIENTS.map(textOf).filter(({ patient }) => patient.sex === 'male');
  expect(men.map(({ patient }) => Number.parseFloat(patient.age) > 50)).toEqual([true]);
});
