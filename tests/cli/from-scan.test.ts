import { createHash } from 'node:crypto';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { run as check } from '../../src/cli/commands/check.js';
import { run as close } from '../../src/cli/commands/close.js';
import { run as compare } from '../../src/cli/commands/compare.js';
import { run as draft } from '../../src/cli/commands/new.js';
import { run as plan } from '../../src/cli/commands/plan.js';
import { run as proof } from '../../src/cli/commands/proof.js';
import { run as surface } from '../../src/cli/commands/surface.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { InputFailure } from '../../src/foundation/failure.js';
import { distance, otherAxes, type Vec3 } from '../../src/foundation/vector.js';
import { vesselsOf } from '../../src/phantoms/lesion.js';
import { lapwingLesion } from '../../src/phantoms/teaching-lesions.js';
import type { Result } from '../../src/result/result.generated.js';
import { IS_LONG } from '../long-tests.js';
import { capture } from './capture.js';
import { pavm } from './run-pavm.js';

// the same points in the same scan give the same surface, so it is made once
vi.mock('../../src/proposal/proposal.js', async (importOriginal) => {
  const real = await importOriginal<typeof import('../../src/proposal/proposal.js')>();
  const known = new Map<string, ReturnType<typeof real.proposeSurface>>();
  return {
    ...real,
    proposeSurface: (...given: Parameters<typeof real.proposeSurface>) => {
      const [input] = given;
      const key = JSON.stringify([input.ends, input.sac, input.volume.values.length]);
      const made = known.get(key) ?? real.proposeSurface(...given);
      known.set(key, made);
      return made;
    },
  };
});

vi.setConfig({ testTimeout: 180_000, hookTimeout: 180_000 });

const work = mkdtempSync(join(tmpdir(), 'pavm-from-scan-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));
const LAPWING = resolve('cases/lapwing');
const TEXT = readFileSync(join(LAPWING, 'case.yaml'), 'utf8').replace(/^expected:[\s\S]*/m, '');

/** A folder with the teaching case's scan and shelf, and this case file. */
function folderOf(name: string, text: string): string {
  const folder = join(work, name);
  mkdirSync(folder, { recursive: true });
  cpSync(join(LAPWING, 'ct'), join(folder, 'ct'), { recursive: true });
  cpSync(join(LAPWING, 'shelf.yaml'), join(folder, 'shelf.yaml'));
  writeFileSync(join(folder, 'case.yaml'), text);
  return folder;
}
const confirmedBy = (by: string, hash?: string): string =>
  TEXT.replace(
    '    sac: [80.0',
    `    confirmed_by: ${by}\n${hash === undefined ? '' : `    confirmed_surface: ${hash}\n`}    sac: [80.0`,
  );
const failureOf = async (action: Promise<unknown>): Promise<InputFailure> => {
  const error = await action.catch((thrown: unknown) => thrown);
  expect(error).toBeInstanceOf(InputFailure);
  return error as InputFailure;
};
const sha256 = (bytes: Uint8Array | string): string => createHash('sha256').update(bytes).digest('hex');
const MARK = 'proposal, not confirmed';

describe('a plan from the scan', () => {
  const folder = folderOf('open', TEXT);
  const out = join(folder, 'plan');
  let planned: { code: number; err: string };
  let result: Result;
  beforeAll(async () => {
    planned = await capture((terminal) => plan([folder], { html: true }, terminal));
    result = JSON.parse(readFileSync(join(out, 'result.json'), 'utf8'));
  });

  it('stops until the surface is confirmed, but still measures', () => {
    expect(planned.code).toBe(1);
    const [stop] = result.findings.filter(({ level }) => level === 'stop');
    expect(stop).toMatchObject({ id: 'surface-not-confirmed', where: 'surfaces.from_scan' });
    expect(stop.text).toContain(result.proposal?.surface_sha256);
    expect(result.proposal).toMatchObject({ confirmed: 'no' });
    expect(result.readiness.recommended).toBe('discuss');
    // ground truth from src/phantoms/teaching-lesions.ts
    expect(Math.abs((result.vessels.A1.landing?.calibre_mm as number) - 5.6)).toBeLessThan(0.25);
    expect(Math.abs((result.vessels.A2.landing?.calibre_mm as number) - 4.2)).toBeLessThan(0.25);
  });

  it('marks every document, figure, page and print', async () => {
    const files = (await readdir(out, { recursive: true })).filter((name) => /\.(md|svg|html)$/.test(name));
    expect(files.length).toBeGreaterThan(20);
    for (const file of files) expect(readFileSync(join(out, file), 'utf8'), file).toContain(MARK);
    // pictures inside pages carry it too
    const page = readFileSync(join(out, 'plan.html'), 'utf8');
    expect(
      page
        .split('<svg ')
        .slice(1)
        .every((svg) => svg.includes(MARK)),
    ).toBe(true);
    for (const name of ['model.stl', 'sac.stl'].filter((one) => existsSync(join(out, 'print', one))))
      expect(readFileSync(join(out, 'print', name)).toString('latin1', 0, 80)).toContain(MARK);
    expect(readFileSync(join(out, 'print/gauges.md'), 'utf8')).toContain(MARK);
  });

  it('carries the mark on the tag of the print, in its 3MF and in the proof', async () => {
    expect((result.print?.tag_lines ?? []).join(' ')).toContain('PROPOSAL NOT CONFIRMED');
    const model = unzipSync(readFileSync(join(out, 'print/model.3mf')))['3D/3dmodel.model'];
    expect(Buffer.from(model).toString('utf8', 0, 1000)).toContain(`STOP: ${MARK}.`);
    const readings = join(folder, 'readings.yaml');
    const rows = result.print!.gauges.map(
      ({ name, expected_mm }) => `  - { name: ${name}, value: ${expected_mm} mm }`,
    );
    writeFileSync(
      readings,
      `format: pavm-readings/1\nmodel: ${result.print?.model_id}\nreadings:\n${rows.join('\n')}\n`,
    );
    const proved = await capture((terminal) =>
      proof([folder], { readings, out: join(work, 'proof') }, terminal),
    );
    expect(proved.out).toContain(`STOP: ${MARK}.`);
    const written = (await readdir(join(work, 'proof'))).filter((name) => /\.(md|svg)$/.test(name));
    for (const name of written) expect(readFileSync(join(work, 'proof', name), 'utf8'), name).toContain(MARK);
  });

  it('marks each document, page and figure of a patient with such a lesion', async () => {
    const patient = join(work, 'patient');
    mkdirSync(patient);
    const shared = /^(patient|blood|gases|circulation):[\s\S]*?(?=^\w)/gm;
    writeFileSync(
      join(patient, 'patient.yaml'),
      `format: pavm-patient/1\nid: grebe\ntitle: One lesion from the scan\npurpose: teaching\n${(TEXT.match(shared) ?? []).join('')}shelf: left/shelf.yaml\nlesions: [{ id: left, case: left/case.yaml }]\nremainder: none\n`,
    );
    folderOf('patient/left', TEXT.replace(shared, '').replace(/^shelf: .*\n/m, ''));
    const planned = await capture((terminal) => plan([patient], {}, terminal));
    expect(planned.code).toBe(1);
    const files = (await readdir(join(patient, 'plan'), { recursive: true })).filter((name) =>
      /\.(md|svg|html)$/.test(name),
    );
    expect(files).toEqual(
      expect.arrayContaining(['patient.md', 'urgent.md', 'page.html', 'figures/lungs.svg']),
    );
    for (const file of files) expect(readFileSync(join(patient, 'plan', file), 'utf8'), file).toContain(MARK);
  });

  it.runIf(IS_LONG)('is the same with its points in RAS, with all coordinates converted', async () => {
    const turned = TEXT.replace('frame: LPS', 'frame: RAS').replace(
      /(at|sac): \[(.+?), (.+?), (.+?)\]/g,
      (_, key, x, y, z) => `${key}: [${-x}, ${-y}, ${z}]`,
    );
    const { result: ras } = await planResult(await measureCase(folderOf('ras', turned)));
    expect(ras.frame_axes).toBe('RAS');
    for (const name of ['A1', 'A2', 'V1']) {
      const [own, other] = [ras.vessels[name], result.vessels[name]];
      expect(
        Math.abs((own.calibre_mm.mean as number) - (other.calibre_mm.mean as number)),
        name,
      ).toBeLessThan(0.01);
      const neckOf = ({ neck }: typeof own): Vec3 => [...(neck as NonNullable<typeof neck>).point_mm] as Vec3;
      expect(distance(otherAxes(neckOf(own)), neckOf(other)), name).toBeLessThan(0.2);
      expect(ras.devices[name]?.code, name).toBe(result.devices[name]?.code);
    }
    expect(Math.abs((ras.sac?.volume_ml as number) - (result.sac?.volume_ml as number))).toBeLessThan(0.005);
  });

  it('writes the surface it was measured on, with labels on its grid', () => {
    expect(sha256(readFileSync(join(out, 'surfaces/lesion.stl')))).toBe(result.proposal?.surface_sha256);
    const bytes = readFileSync(join(out, 'surfaces/labels.nrrd'));
    const at = bytes.indexOf('\n\n');
    const fields = new Map(
      bytes
        .toString('latin1', 0, at)
        .split('\n')
        .filter((line) => /^[a-z ]+: /.test(line))
        .map((line) => line.split(': ') as [string, string]),
    );
    expect(fields.get('space')).toBe('left-posterior-superior');
    const sizes = fields.get('sizes')?.split(' ').map(Number) as number[];
    const directions = fields.get('space directions')?.match(/\(([^)]+)\)/g) ?? [];
    const steps = directions.map((v) => v.slice(1, -1).split(',').map(Number));
    const origin = fields.get('space origin')?.slice(1, -1).split(',').map(Number) as number[];
    const values = gunzipSync(bytes.subarray(at + 2));
    expect(values.length).toBe(sizes[0] * sizes[1] * sizes[2]);
    // 1 is the sac, 2 and up are the ends in order; each label surrounds its own point
    const labelAt = (p: readonly number[]): number => {
      const [i, j, k] = p.map((x, d) => Math.round((x - origin[d]) / steps[d][d]));
      return values[(k * sizes[1] + j) * sizes[0] + i];
    };
    expect(labelAt([80, 31, -51])).toBe(1);
    for (const [i, { point_mm }] of (result.proposal?.ends ?? []).entries())
      expect(labelAt(point_mm as number[]), String(i)).toBe(i + 2);
  });

  it('writes the same surface alone, to surfaces/ next to the case, and refuses a foreign folder', async () => {
    const { code, out: text } = await capture((terminal) => surface([folder], {}, terminal));
    expect(code).toBe(1);
    expect(text).toMatch(/^proposal, not confirmed: sac \d\.\d\d mL/);
    const lesion = readFileSync(join(folder, 'surfaces/lesion.stl'));
    expect(sha256(lesion)).toBe(result.proposal?.surface_sha256);
    expect(readFileSync(join(folder, 'surfaces/report.md'), 'utf8')).toContain(
      `confirmed_surface: ${sha256(lesion)}`,
    );
    const foreign = join(work, 'foreign');
    mkdirSync(foreign);
    writeFileSync(join(foreign, 'note.txt'), 'theirs');
    const refused = await capture((terminal) => surface([folder], { out: foreign }, terminal)).catch(
      (error: unknown) => error,
    );
    expect(refused).toMatchObject({ exitCode: 5 });
  });

  it('closing feeders reports it too; an unchanged case compares with itself, with a caution', async () => {
    const closed = await capture((terminal) => close([folder, 'A1'], {}, terminal));
    expect([closed.code, closed.out.startsWith(`STOP: ${MARK}.`)]).toEqual([1, true]);
    const compared = await capture((terminal) => compare([out, out], { json: true }, terminal));
    const { because, numbers } = JSON.parse(compared.out);
    expect(because.filter((text: string) => text.startsWith(`caution: ${MARK}`))).toHaveLength(2);
    expect(numbers.filter(({ path }: { path: string }) => path.startsWith('proposal'))).toEqual([]);
  });

  it('counts as confirmed for this surface only', async () => {
    const hash = result.proposal?.surface_sha256 as string;
    const right = folderOf('right', confirmedBy('R. Reader', hash));
    const out = join(work, 'elsewhere');
    const done = await capture((terminal) => surface([right], { out, json: true }, terminal));
    expect(done.code).toBe(0);
    expect(JSON.parse(done.out).proposal).toMatchObject({ confirmed: 'yes', confirmed_by: 'R. Reader' });
    for (const name of ['report.md', 'views.svg'])
      expect(readFileSync(join(out, 'surfaces', name), 'utf8'), name).not.toContain(MARK);
    expect(sha256(readFileSync(join(out, 'surfaces/lesion.stl')))).toBe(hash);
  });

  it('finds a feeder that was left out and gives a line that can be used as it is', async () => {
    const without = folderOf('without', TEXT.replace(/^.*name: A2.*\n/m, ''));
    const first = await capture((terminal) => surface([without], { suggest: true }, terminal));
    expect(first.code).toBe(1);
    expect(first.err).toContain('An opacified vessel joins the sac and is in no surface');
    expect(existsSync(join(without, 'surfaces'))).toBe(false);
    const line = /^ {6}- \{ name: N1, role: feeder, at: .*$/m.exec(first.out)?.[0] as string;
    const [end] = parse(line);
    expect(end).toMatchObject({ name: 'N1', role: 'feeder' });
    // on the axis of A2, within the error of a reader
    const axis = vesselsOf(lapwingLesion()).get('A2')?.axis;
    const away = Array.from({ length: 64 }, (_, i) => distance(axis!.pointAt(i / 2), end.at));
    expect(Math.min(...away)).toBeLessThan(1);
  });
});

describe('the same lesion from its labels and from its surface', () => {
  const SURFACES: Record<string, string> = {
    whole: `  unit: mm
  frame: LPS
  whole:
    mesh: lesion.stl
    ends:
      - { name: A1, role: feeder, at: [54.6, 16.6, -21.6] }
      - { name: A2, role: feeder, at: [52.4, 53.6, -60.2] }
      - { name: V1, role: drain, at: [60.4, -2.2, -59.4] }
    sac: [80.0, 31.0, -51.0]
`,
    labels: `  unit: mm
  frame: LPS
  labels:
    file: labels.nrrd
    parts:
      - { name: sac, role: sac, label: 1 }
      - { name: A1, role: feeder, label: 2 }
      - { name: A2, role: feeder, label: 3 }
      - { name: V1, role: drain, label: 4 }
`,
  };

  it.each(Object.keys(SURFACES))(
    '%s: calibres within the intervals of the scan, the same devices',
    async (form) => {
      const scanned: Result = JSON.parse(readFileSync(join(work, 'open/plan/result.json'), 'utf8'));
      const text = TEXT.replace(/^surfaces:[\s\S]*?^shelf:/m, `surfaces:\n${SURFACES[form]}shelf:`).replace(
        /^scan: .*$/m,
        'scan: { date: 2026-02-09, slice_thickness: 1 mm, in_plane: 0.8 mm }',
      );
      const folder = folderOf(form, text);
      for (const name of ['lesion.stl', 'labels.nrrd'])
        cpSync(join(work, 'open/plan/surfaces', name), join(folder, name));
      const { result } = await planResult(await measureCase(folder));
      for (const name of ['A1', 'A2']) {
        const [own, other] = [result.vessels[name].landing, scanned.vessels[name].landing];
        const [low, high] = other?.calibre_interval_mm ?? [0, 0];
        expect(own?.calibre_mm, name).toBeGreaterThan(low);
        expect(own?.calibre_mm, name).toBeLessThan(high);
        expect(result.devices[name].code, name).toBe(scanned.devices[name].code);
      }
      // one whole surface has the necks of the scan; parts define the neck differently
      if (form !== 'whole') return;
      for (const name of ['A1', 'A2', 'V1'])
        expect(
          Math.abs((result.vessels[name].neck?.at_mm ?? 0) - (scanned.vessels[name].neck?.at_mm ?? 99)),
          name,
        ).toBeLessThan(0.5);
      expect(result.sac?.volume_ml).toBeCloseTo(scanned.sac?.volume_ml as number, 1);
    },
  );
});

describe('unusable points', () => {
  it.each([
    ['A1', '[54.6, 16.6, -21.6]', '[60.0, 40.0, -30.0]', /from_scan\.ends\[0\]\.at: .*-8\d\d HU/],
    ['sac', 'sac: [80.0, 31.0, -51.0]', 'sac: [70.0, 45.0, -30.0]', /from_scan\.sac: .*-8\d\d HU/],
  ])('%s in lung: refused at its place, with the grey value found', async (name, from, to, text) => {
    const folder = folderOf(`lung-${name}`, TEXT.replace(from, to));
    const { exitCode, problems } = await failureOf(capture((terminal) => surface([folder], {}, terminal)));
    expect(exitCode).toBe(2);
    expect(problems.join('\n')).toMatch(/case\.yaml:\d+:\d+ /);
    expect(problems.join('\n')).toMatch(text);
    expect(existsSync(join(folder, 'surfaces'))).toBe(false);
  });

  it('placeholders of a draft: check reports each of them', async () => {
    const folder = folderOf('drafted', TEXT);
    rmSync(join(folder, 'case.yaml'));
    expect((await capture((terminal) => draft([folder], {}, terminal))).code).toBe(0);
    const checked = await capture((terminal) => check([folder], {}, terminal));
    expect(checked.code).toBe(2);
    expect(checked.err.match(/: the point is still the placeholder of a draft\./g)).toHaveLength(3);
  });

  it('outside the scan: check reports it from the headers alone, and so does plan', async () => {
    const folder = folderOf('outside', TEXT.replace('[54.6, 16.6, -21.6]', '[-54.6, -16.6, -21.6]'));
    const checked = await capture((terminal) => check([folder], {}, terminal));
    expect(checked.code).toBe(2);
    expect(checked.err).toMatch(/ends\[0\]\.at: the point is outside the scan.*The scan reaches x 42\.0/);
    const { exitCode, problems } = await failureOf(capture((terminal) => plan([folder], {}, terminal)));
    expect([exitCode, problems[0].includes('the point is outside the scan')]).toEqual([2, true]);
    expect(pavm(['check', LAPWING])).toMatchObject({
      code: 0,
      stdout: expect.stringMatching(/^OK {2}lapwing/),
    });
  });
});
