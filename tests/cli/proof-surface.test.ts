import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { type ProofOptions, run } from '../../src/cli/commands/proof.js';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { printPackageOf } from '../../src/cli/plan/print-folder.js';
import { vertexDistances } from '../../src/geometry/register/surface-distance.js';
import { coarsened } from '../../src/mesh/coarsen.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { scaled } from '../../src/mesh/transform.js';
import { writeStl } from '../../src/mesh/write-stl.js';
import { seededMotion } from '../../src/phantoms/rigid.js';
import { cutOff, mirrorImage, noisyCopy } from '../geometry/register/make.js';
import { IS_LONG } from '../long-tests.js';
import { capture } from './capture.js';
import { folderHash, pavm } from './run-pavm.js';

vi.mock('../../src/cli/measure/measure-case.js', async (original) =>
  (await import('./measure-once.js')).measuringOnce(original),
);
vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('./measure-once.js')).printingOnce(original),
);

const folder = mkdtempSync(join(tmpdir(), 'proof-surface-'));
afterAll(() => rmSync(folder, { recursive: true }));
const CASE = 'cases/robin';
/** Far more than it takes on an idle machine. */
const PATIENCE = 240_000;
const pack = await printPackageOf(await measureCase(CASE));
/** The print in a different triangulation from the model's. */
const printed = coarsened(pack.parts.find((p) => p.role === 'model')!.mesh, 0.9);
const motion = seededMotion(9, 60);

function scan(name: string, mesh: TriangleMesh, noiseMm = 0.1): string {
  const path = join(folder, `${name}.stl`);
  writeFileSync(path, writeStl(noisyCopy(mesh, motion, noiseMm, 3), name));
  return path;
}
const proof = (surface: string, options: ProofOptions = {}) =>
  capture((t) => run([CASE], { surface, unit: 'mm', ...options }, t));
const json = async (surface: string, options: ProofOptions = {}) => {
  const { code, out } = await proof(surface, { json: true, ...options });
  return { code, ...JSON.parse(out) };
};

describe('pavm proof --surface', () => {
  it(
    'passes a true print with 0 and writes complete figures, the same bytes each time',
    () => {
      const path = scan('true', printed);
      const out = join(folder, 'out');
      const args = ['proof', CASE, '--surface', path, '--unit', 'mm', '--out', out];
      const ran = pavm(args);
      expect(ran.code).toBe(0);
      expect(ran.stdout).toMatch(/^Print of robin: PROVED/);
      expect(ran.stdout).toMatch(/Scan: true\.stl, \d+ triangles, unit mm \(as --unit says\)/);
      expect(ran.stderr).toContain('The proof is in');
      expect(readdirSync(out).toSorted()).toEqual([
        'model-under-scan.svg',
        'outputs.json',
        'proof.json',
        'proof.txt',
        'scan-on-model.svg',
      ]);
      expect(readFileSync(join(out, 'proof.txt'), 'utf8')).toBe(ran.stdout);
      const svg = readFileSync(join(out, 'scan-on-model.svg'), 'utf8');
      expect(svg).toContain('Distance, mm');
      expect(svg).toContain('>striped: out of tolerance (± 0.35');
      expect(svg.match(/data:image\/png/g)!.length).toBeGreaterThan(5);
      const before = folderHash(out);
      if (IS_LONG) {
        expect(pavm(args, { env: { TZ: 'Asia/Tokyo', LANG: 'de_DE.UTF-8' } }).code).toBe(0);
        expect(folderHash(out)).toEqual(before);
      }
      const { surface } = JSON.parse(readFileSync(join(out, 'proof.json'), 'utf8'));
      expect(surface.registration.verdict).toBe('placed');
      expect(surface.distances.scan_to_model.rms_mm).toBeLessThan(0.12);
      expect(surface.scale_factor).toBeCloseTo(1, 2);
      expect(surface.scale_error).toBe(false);
      expect(surface.figures).toEqual(['scan-on-model.svg', 'model-under-scan.svg']);
      expect(surface.structures.map((s: { name: string }) => s.name)).toEqual(['A1', 'V1', 'sac', 'tag']);
      for (const one of surface.structures) expect(one).toMatchObject({ within: true, shown: 1 });
      // the pose undoes the scanner's
      const { rotation, translation_mm } = surface.pose;
      const [w, x, y, z] = motion.rotation;
      // 0.1° is 0.0017
      expect(Math.abs(rotation[0][0] - (1 - 2 * (y * y + z * z)))).toBeLessThan(0.0017);
      expect(Math.abs(rotation[2][1] - 2 * (y * z - w * x))).toBeLessThan(0.0017);
      const back = [0, 1, 2].map(
        (k) =>
          -rotation[k].reduce((sum: number, c: number, i: number) => sum + c * motion.translationMm[i], 0),
      );
      for (let k = 0; k < 3; k++) expect(Math.abs(translation_mm[k] - back[k])).toBeLessThan(0.1);
    },
    PATIENCE,
  );

  it(
    'does not prove a print at 98 %, and gives its scale with an interval',
    async () => {
      const found = await json(scan('small', scaled(printed, 0.98)));
      expect(found).toMatchObject({ code: 1, verdict: 'not-proved' });
      expect(found.because[0]).toMatch(/^Scale error: the print is (1\.9|2\.0)\d % too small/);
      expect(found.surface.scale_error_percent).toBeCloseTo(-2, 0);
      expect(found.surface.scale_interval[0]).toBeLessThan(0.982);
      expect(found.surface.scale_interval[1]).toBeLessThan(0.99);
    },
    PATIENCE,
  );

  it(
    'recognises inches taken for mm; with the right unit the same file passes',
    async () => {
      const path = scan('inch', scaled(printed, 1 / 25.4), 0.003);
      const wrong = await json(path);
      expect(wrong).toMatchObject({ code: 1, verdict: 'not-proved' });
      expect(wrong.because.join()).toMatch(/inches and millimetres were mixed up.*too small.*Check --unit/);
      expect(wrong.surface.distances).toBeUndefined();
      expect(wrong.surface.distances_absent_because).toContain('nothing was rescaled');
      expect((await proof(path, { unit: 'inch' })).code).toBe(0);
    },
    PATIENCE,
  );

  it(
    'refuses a mirror image and another object, each with its own message',
    async () => {
      const mirror = await json(scan('mirror', mirrorImage(printed)));
      expect(mirror).toMatchObject({ code: 1, verdict: 'not-proved' });
      expect(mirror.because[0]).toMatch(/^Mirrored: .* Left and right are exchanged/);
      const other = (await printPackageOf(await measureCase('cases/plover'))).parts.find(
        (p) => p.role === 'model',
      )!.mesh;
      const strange = await json(scan('other', other));
      expect(strange).toMatchObject({ code: 1, verdict: 'not-proved' });
      expect(strange.because[0]).toMatch(/^Not this model: in the best pose only \d+ % of it lies within/);
      expect(strange.surface.pose).toBeUndefined();
    },
    PATIENCE,
  );

  it.runIf(IS_LONG)(
    'reports a thick wall as an even offset, not as a scale error',
    async () => {
      // outwards along the vertex normals
      const { positions, triangles } = printed;
      const normals = new Float64Array(positions.length);
      for (let t = 0; t < triangles.length; t += 3) {
        const [a, b, c] = [0, 1, 2].map((k) => 3 * triangles[t + k]);
        const u = [0, 1, 2].map((k) => positions[b + k] - positions[a + k]);
        const v = [0, 1, 2].map((k) => positions[c + k] - positions[a + k]);
        const n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
        for (const corner of [a, b, c]) for (let k = 0; k < 3; k++) normals[corner + k] += n[k];
      }
      const thick = positions.map((x, i) => {
        const at = i - (i % 3);
        return x + (0.65 * normals[i]) / Math.hypot(normals[at], normals[at + 1], normals[at + 2]);
      });
      const found = await json(scan('thick', { positions: thick, triangles }));
      expect(found.verdict).toBe('not-proved');
      expect(found.because.join('\n')).toMatch(
        /sac: its wall is 0\.6\d mm outside on average, so that sizes read about 1\.\d\d mm too large/,
      );
      expect(found.surface.scale_error).toBe(false);
      expect(found.surface.offset_mm).toBeGreaterThan(0.5);
    },
    PATIENCE,
  );

  it(
    'a scan of a part proves nothing, and the report says what is missing',
    async () => {
      const xs = [...printed.positions.filter((_, i) => i % 3 === 0)].toSorted((a, b) => a - b);
      const limit = xs[Math.floor(0.2 * xs.length)];
      const part = await proof(
        scan(
          'part',
          cutOff(printed, (p) => p[0] > limit),
        ),
      );
      expect(part.code).toBe(1);
      expect(part.out).toMatch(
        /^Print of robin: NOT PROVED: do not rely on this print\n {2}.*The scan shows \d\d % of the model's surface/s,
      );
      expect(part.err).toContain('open ends');
    },
    PATIENCE,
  );

  it(
    'readings and a scan together give the worse verdict',
    async () => {
      const readings = join(folder, 'readings.yaml');
      const rows = pack.result.gauges.map(
        (g) => `  - { name: ${g.name}, value: "${(g.expected_mm * 1.03).toFixed(2)} mm" }`,
      );
      writeFileSync(readings, `format: pavm-readings/1\nreadings:\n${rows.join('\n')}\n`);
      const both = await json(scan('both', printed), { readings });
      expect(both).toMatchObject({ code: 1, verdict: 'not-proved', surface: { verdict: 'proved' } });
      expect(both.readings).toHaveLength(pack.result.gauges.length);
      expect(both.because.join()).toContain('Scale error: the print is 3.');
    },
    PATIENCE,
  );
});

describe('other prints', () => {
  /** A copy of the case with another print. */
  function otherPrint(name: string, print: string, from = CASE): string {
    const copy = join(folder, name);
    cpSync(from, copy, { recursive: true });
    const file = join(copy, 'case.yaml');
    writeFileSync(file, readFileSync(file, 'utf8').replace(/^print:.*$/m, `print: ${print}`));
    return copy;
  }

  it.runIf(IS_LONG)(
    'a hollow print is judged by its outside, all that a scan sees',
    async () => {
      const copy = otherPrint(
        'hollow',
        '{ scale: 1, process: vat-photopolymerisation, wall: 1.2 mm, hollow: yes }',
        'cases/heron',
      );
      const measured = await measureCase(copy);
      const { mesh } = (await printPackageOf(measured)).parts.find((p) => p.role === 'model')!;
      const lumen = measured.structures.filter(({ role }) => ['feeder', 'drain', 'sac'].includes(role));
      const toLumen = lumen.map((part) => vertexDistances(mesh, part.mesh));
      const isOutside = (v: number): boolean => toLumen.every((signed) => signed[v] > 0.6);
      const outside: number[] = [];
      for (let t = 0; t < mesh.triangles.length; t += 3) {
        const corners = [...mesh.triangles.subarray(t, t + 3)];
        if (corners.every(isOutside)) outside.push(...corners);
      }
      expect(outside.length).toBeLessThan(0.8 * mesh.triangles.length);
      const surface = scan('outside', { positions: mesh.positions, triangles: Uint32Array.from(outside) });
      const { out } = await capture((t) => run([copy], { surface, unit: 'mm', json: true }, t));
      const found = JSON.parse(out);
      expect(found.verdict).toBe('proved');
      expect(found.because.join()).toContain('its outside was judged, its lumen was not');
      for (const one of found.surface.structures) expect(one.p95_mm).toBeLessThan(0.3);
    },
    PATIENCE,
  );

  it(
    'reports a print scale that was not applied',
    async () => {
      const copy = otherPrint('half', '{ scale: 0.5, process: material-jetting }');
      const { mesh } = (await printPackageOf(await measureCase(copy))).parts.find((p) => p.role === 'model')!;
      const surface = scan('full-size', scaled(coarsened(mesh, 0.5), 2));
      const { code, out } = await capture((t) => run([copy], { surface, unit: 'mm' }, t));
      expect(code).toBe(1);
      expect(out).toContain('the model reads at its true size: the print scale of 0.5 was not applied');
    },
    PATIENCE,
  );
});

describe('pavm proof with bad input', () => {
  it.each([
    ['a broken mesh', 'broken.stl', 'solid x\nfacet normal 0 0', 3, /^broken\.stl: /],
    ['an empty file', 'empty.stl', '', 3, /^empty\.stl: the file is empty/],
    ['a file that is not a mesh', 'text.stl', 'nothing of the kind', 3, /^text\.stl: /],
  ])('%s exits with 3 and one line', (_, name, text, code, message) => {
    const path = join(folder, name);
    writeFileSync(path, text);
    const out = join(folder, 'never');
    const ran = pavm(['proof', CASE, '--surface', path, '--out', out]);
    expect([ran.code, ran.stdout]).toEqual([code, '']);
    expect(ran.stderr).toMatch(message);
    expect(ran.stderr.trim().split('\n')).toHaveLength(1);
    expect(existsSync(out)).toBe(false);
  });

  it('exits with 3 on a missing file, with 2 on a wrong unit or with nothing to compare', async () => {
    await expect(proof(join(folder, 'none.stl'))).rejects.toMatchObject({
      exitCode: 3,
      message: 'none.stl: there is no such file. Check the path.',
    });
    await expect(proof(join(folder, 'none.stl'), { unit: 'feet' })).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('Write one of: mm, cm, m, inch.'),
    });
    await expect(capture((t) => run([CASE], {}, t))).rejects.toMatchObject({
      exitCode: 2,
      message: expect.stringContaining('--readings FILE, --surface FILE or both'),
    });
    await expect(capture((t) => run([CASE], { readings: 'r.yaml', unit: 'mm' }, t))).rejects.toMatchObject({
      exitCode: 2,
    });
  });

  it(
    'does not replace a foreign folder',
    async () => {
      const out = join(folder, 'theirs');
      const path = scan('again', printed);
      writeFileSync(join(folder, 'x'), '');
      const { mkdirSync } = await import('node:fs');
      mkdirSync(out);
      writeFileSync(join(out, 'letter.txt'), 'mine');
      await expect(proof(path, { out })).rejects.toMatchObject({ exitCode: 5 });
      expect(readdirSync(out)).toEqual(['letter.txt']);
    },
    PATIENCE,
  );
});
