import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { readCase } from '../../src/case/read-case.js';
import { readShelf } from '../../src/case/read-shelf.js';
import { run as compare } from '../../src/cli/commands/compare.js';
import { run as grade } from '../../src/cli/commands/grade.js';
import { type DemoCase, demoFiles } from '../../src/phantoms/demo-cases.js';
import { vesselsOf } from '../../src/phantoms/lesion.js';
import { scanCases, teachingCases } from '../../src/phantoms/teaching-cases.js';
import { axisGapMm, type LesionTruth, truthOfParts, truthOfWhole } from '../../src/phantoms/truth.js';
import type { Result } from '../../src/result/result.generated.js';
import { capture } from '../cli/capture.js';
import { intervalsOf } from './intervals-of.js';

/** Every result that a command of this file plans: each case is planned once. */
const planned = vi.hoisted((): Result[] => []);
vi.mock('../../src/cli/plan/plan-files.js', async (importOriginal) => {
  const real = await importOriginal<typeof import('../../src/cli/plan/plan-files.js')>();
  return {
    ...real,
    planResult: async (...given: Parameters<typeof real.planResult>) => {
      const answer = await real.planResult(...given);
      planned.push(answer.result);
      return answer;
    },
  };
});

vi.mock('../../src/cli/measure/measure-case.js', async (original) =>
  (await import('../cli/measure-once.js')).measuringOnce(original),
);
vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('../cli/measure-once.js')).printingNothing(original),
);

vi.setConfig({ testTimeout: 180_000 });

const CASES = fileURLToPath(new URL('../../cases', import.meta.url));
const folderOf = (demo: DemoCase): string => join(CASES, demo.folder);
const all = readdirSync(CASES)
  .filter((name) => existsSync(join(CASES, name, 'case.yaml')))
  .sort();

interface Gas {
  when: string;
  po2: string;
  pco2: string;
  pressure: string;
  so2?: string;
}
interface CaseText {
  blood: { haemoglobin: string };
  gases: Gas[];
  surfaces: { parts: { name: string; role: string }[] };
  patient: { age: string; sex: string };
  lesion: { side: string; lobe: string };
  expected: { value?: string; equals?: number | string; within?: number; finding?: string }[];
}
const textOf = (folder: string): CaseText => parse(readFileSync(join(CASES, folder, 'case.yaml'), 'utf8'));

/**
 * Shunt by the content formula from the case text alone: Qs/Qt = (Cc' - Ca) / (Cc' - Ca + 5), contents by 1.34 mL/g and
 * 0.0031 mL/dL/mmHg, water vapour 47 mmHg, saturation by Severinghaus (J Appl Physiol 1979;46:599), Eq. 1, or as measured
 * below 150 mmHg.
 */
function shuntByHand(text: CaseText, when: string): number {
  const gas = text.gases.find((one) => one.when === when) as Gas;
  const [po2, pco2, pressure] = [gas.po2, gas.pco2, gas.pressure].map(Number.parseFloat);
  const curve = 1 / (23400 / (po2 ** 3 + 150 * po2) + 1);
  const saturation = po2 < 150 && gas.so2 ? Number.parseFloat(gas.so2) / 100 : curve;
  const lost =
    1.34 * Number.parseFloat(text.blood.haemoglobin) * (1 - saturation) +
    0.0031 * (pressure - 47 - pco2 - po2);
  return lost / (lost + 5);
}

/** The truth for a case: one fused surface, as from a scan, has necks of its own. */
const truths = new Map<string, LesionTruth>();
function truthOf({ folder, form, lesion }: DemoCase): LesionTruth {
  const truth = truths.get(folder) ?? (form === 'scan' ? truthOfWhole(lesion) : truthOfParts(lesion));
  truths.set(folder, truth);
  return truth;
}

/** A number in the key, from the formulas of the lesion or by hand from the case text. */
function trueValue(path: string, text: CaseText, truth: LesionTruth): number | undefined {
  const count = (role: string): number =>
    Object.values(truth.vessels).filter((one) => one.role === role).length;
  const plain: Record<string, () => number> = {
    'shunt.fraction': () => shuntByHand(text, 'before'),
    'shunt_after.fraction': () => shuntByHand(text, 'after'),
    'sac.volume_ml': () => truth.sacVolumeMl,
    'lesion.feeder_count': () => count('feeder'),
    'lesion.drain_count': () => count('drain'),
  };
  if (plain[path]) return plain[path]();
  const [, name, ...rest] = path.split('.');
  const vessel = truth.vessels[name];
  if (rest.join('.') === 'length_mm') return vessel.lengthMm;
  if (rest.join('.') === 'calibre_mm.mean') return vessel.calibreAt(vessel.lengthMm / 2);
  return rest.join('.') === 'landing.calibre_mm' ? vessel.landing?.calibreMm : undefined;
}

it('there are twelve cases or more, in folders named after birds', () => {
  expect(all.length).toBeGreaterThanOrEqual(12);
  for (const folder of all) expect(folder).toMatch(/^[a-z]+(-[a-z]+)?$/);
});

describe.each([...teachingCases(), ...scanCases()].map((demo) => [demo.folder, demo] as const))(
  'case %s',
  (folder, demo) => {
    const text = textOf(folder);

    it('contains exactly the files that its lesion gives, in less than 0.8 MB, or less than 3 with a scan', () => {
      const meshes = demoFiles(demo);
      let bytes = 0;
      for (const mesh of meshes) {
        expect(readFileSync(join(folderOf(demo), mesh.path)).equals(mesh.bytes), mesh.path).toBe(true);
        bytes += mesh.bytes.length;
      }
      expect(bytes).toBeLessThan(demo.form === 'scan' ? 3e6 : 0.8e6);
      const made = demo.form === 'scan' ? 'ct' : 'meshes';
      expect(
        readdirSync(join(folderOf(demo), made))
          .map((name) => `${made}/${name}`)
          .sort(),
      ).toEqual(meshes.map(({ path }) => path).sort());
    });

    it('is a valid teaching case with a story and learning points', async () => {
      const read = await readCase(folderOf(demo));
      expect([read.case.id, read.case.purpose]).toEqual([folder, 'teaching']);
      expect(read.findings.filter(({ level }) => level === 'stop')).toEqual([]);
      expect((await readShelf(join(folderOf(demo), 'shelf.yaml'))).devices.length).toBeGreaterThan(15);
      const story = readFileSync(join(folderOf(demo), 'README.md'), 'utf8');
      expect(story).toContain('**Invented; not a real patient.**');
      expect(story.split('What to learn')[1].match(/^- /gm)?.length).toBeGreaterThanOrEqual(2);
      expect(Number.parseInt(text.patient.age, 10) < 40 && text.patient.sex === 'male').toBe(false);
    });

    it('has vessels that keep clear of each other', () => {
      const vessels = [...vesselsOf(demo.lesion).values()];
      for (const [i, a] of vessels.entries())
        for (const b of vessels.slice(i + 1)) {
          const walls = (a.calibreAt(0) + b.calibreAt(0)) / 2;
          expect(
            axisGapMm(a, b, a.axis.lengthMm, b.axis.lengthMm) - walls,
            `${a.plan.name} ${b.plan.name}`,
          ).toBeGreaterThan(1);
        }
    });

    it('has an answer key that follows from the truth, with tolerance for the last digit only', () => {
      const truth = truthOf(demo);
      const numbers = text.expected.filter((key) => typeof key.equals === 'number');
      expect(numbers.length).toBeGreaterThanOrEqual(5);
      for (const { value, equals } of numbers) {
        const exact = trueValue(value as string, text, truth);
        expect(exact, value).toBeDefined();
        const digits = String(equals).split('.')[1]?.length ?? 0;
        expect(Math.abs((equals as number) - (exact as number)), value).toBeLessThanOrEqual(
          0.51 * 10 ** -Math.max(digits, 1) + 1e-9,
        );
      }
      expect(text.expected.some(({ value }) => value === 'readiness.recommended')).toBe(true);
    });

    it('names devices whose oversize for the true calibre is within the rule, the only one of its kind without nickel where that matters', () => {
      const shelf: { devices: { code: string; kind: string; diameter: string }[] } = parse(
        readFileSync(join(folderOf(demo), 'shelf.yaml'), 'utf8'),
      );
      // 30 to 50 % for a plug (AJR 2009;192, 12 lesions); 20 % for a covered plug and 20 to 30 % for a coil: common practice, no source
      const windows: Record<string, [number, number]> = {
        'vascular-plug': [1.3, 1.5],
        'micro-plug': [1.2, 1.5],
        'detachable-coil': [1.2, 1.3],
      };
      const truth = truthOf(demo);
      for (const { value, equals } of text.expected.filter((key) =>
        /^devices\..*\.code$/.test(key.value ?? ''),
      )) {
        const calibre = truth.vessels[(value as string).split('.')[1]].landing?.calibreMm as number;
        const kind = shelf.devices.find(({ code }) => code === equals)?.kind as string;
        const [low, high] = windows[kind];
        const fitting = shelf.devices.filter((device) => {
          const ratio = Number.parseFloat(device.diameter) / calibre;
          return device.kind === kind && ratio >= low - 1e-9 && ratio <= high + 1e-9;
        });
        expect(fitting.map(({ code }) => code)).toEqual([equals]);
      }
      if (folder === 'osprey') {
        const calibre = truth.vessels.A1.landing?.calibreMm as number;
        expect(
          Math.max(...shelf.devices.map(({ diameter }) => Number.parseFloat(diameter))) / calibre,
        ).toBeLessThan(1.3);
      }
    });
  },
);

describe('the whole set', () => {
  it('passes its own grade', async () => {
    const { code, out, err } = await capture((terminal) =>
      grade(
        all.map((name) => join(CASES, name)),
        {},
        terminal,
      ),
    );
    expect(out).not.toContain('FAIL');
    expect([code, err]).toEqual([0, '']);
    expect(out).toContain(`${all.length} of ${all.length} cases passed`);
  });

  it('every interval is in order and contains its value, in every row of every result', () => {
    expect(planned.length).toBeGreaterThanOrEqual(all.length);
    const all95 = planned.flatMap((result) => intervalsOf(result, result.case));
    const unsound = all95.filter(({ value, interval }) => {
      const [low, high] = interval as [number, number];
      return !(
        Number.isFinite(low) &&
        Number.isFinite(high) &&
        low <= (value as number) &&
        (value as number) <= high
      );
    });
    expect(unsound).toEqual([]);
    const names = new Set(all95.map(({ path }) => path.split('.').at(-1)));
    expect([...names]).toEqual(
      expect.arrayContaining([
        'fraction',
        'shunt_fraction',
        'so2_room_air_percent',
        'so2_on_oxygen_percent',
        'mean_pa_pressure_mmhg',
        'cardiac_output_l_min',
        'calibre_mm',
        'length_mm',
        'volume_ml',
        'oversize_percent',
        'share',
      ]),
    );
  });

  it('a lesion as one surface agrees with its parts within 2 % in calibre', () => {
    const [parts, whole] = ['plover', 'plover-whole'].map(
      (name) => planned.find((result) => result.case === name)!.vessels!,
    );
    for (const name of ['A1', 'A2'])
      expect(
        Math.abs(whole[name].landing!.calibre_mm! / parts[name].landing!.calibre_mm! - 1),
        name,
      ).toBeLessThan(0.02);
  });

  it('shares of the feeders add up to one, and the remaining flows to no more than the output', () => {
    for (const { closure, case: name } of planned) {
      const shares = new Map(
        closure.flatMap(({ remaining = {} }) =>
          Object.entries(remaining).map(([feeder, { share }]) => [feeder, share]),
        ),
      );
      if (shares.size < 2) continue;
      const sum = [...shares.values()].reduce((a = 0, b = 0) => a + b, 0);
      expect(sum, name).toBeCloseTo(1, 3);
    }
  });

  it('describes the second scan of the tern: one feeder gone, one open again, persistence likely', async () => {
    const { code, out } = await capture((terminal) =>
      compare([join(CASES, 'tern-before'), join(CASES, 'tern-after')], { json: true }, terminal),
    );
    expect(code).toBe(1);
    const told = JSON.parse(out);
    expect(told).toMatchObject({
      verdict: 'plan changes',
      course: 'treated-between',
      shrinkage: { reading: 'persistence likely' },
    });
    expect(told.shrinkage.vein_percent).toBeCloseTo(20, 0);
    expect(told.shrinkage.sac_percent).toBeCloseTo(30, 0);
    expect(told.feeders.map(({ name, what }: { name: string; what: string }) => [name, what])).toEqual([
      ['A1', 'gone'],
      ['A2', 'still-open'],
    ]);
  });

  it.each([
    ['tern-before', 76.3, 80, ['A1', 'A2']],
    ['tern-after', 70.3, 71.4, ['A2']],
  ])(
    'distinguishes the closed tern from %s: no feeder left, shunt normal, shrunk enough',
    async (old, vein, sac, gone) => {
      const { out } = await capture((terminal) =>
        compare([join(CASES, old), join(CASES, 'tern-closed')], { json: true }, terminal),
      );
      const told = JSON.parse(out);
      expect(told).toMatchObject({ course: 'treated-between', outcome: { reading: 'closed' } });
      expect(told.shrinkage.reading).toContain('closed');
      expect(told.shrinkage.vein_percent).toBeCloseTo(vein, 0);
      expect(told.shrinkage.sac_percent).toBeCloseTo(sac, 0);
      expect(told.feeders.map(({ name, what }: { name: string; what: string }) => [name, what])).toEqual(
        gone.map((name) => [name, 'gone']),
      );
    },
  );
});
