import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { planResult } from '../../src/cli/plan/plan-files.js';
import { ploverLesion } from '../../src/phantoms/demo-lesions.js';
import { truthOfParts } from '../../src/phantoms/truth.js';
import { resultJson } from '../../src/report/result-json.js';
import type { Result } from '../../src/result/result.generated.js';
import { segOf } from '../volume/dicom-seg-bytes.js';
import { labelNumbers, labelVolume, niftiOf, nrrdOf } from '../volume/label-volume.js';
import { pavm } from './run-pavm.js';

vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('./measure-once.js')).printingNothing(original),
);

const work = mkdtempSync(join(tmpdir(), 'pavm-labels-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

const lesion = ploverLesion();
const numbers = labelNumbers(lesion);
const original = readFileSync('cases/plover/case.yaml', 'utf8');

/** The plover case with its structures in a label map. */
function caseWith(
  name: string,
  file: string,
  bytes: Uint8Array,
  options: { byName?: boolean; edit?: (text: string) => string } = {},
): string {
  const dir = join(work, name);
  mkdirSync(dir);
  writeFileSync(join(dir, file), bytes);
  cpSync('cases/plover/shelf.yaml', join(dir, 'shelf.yaml'));
  const parts = [
    ['A1', 'role: feeder, arises_from: "A9 of the left lower lobe"'],
    ['A2', 'role: feeder'],
    ['sac', 'role: sac'],
    ['V1', 'role: drain'],
    ['B1', 'role: branch, of: A1, spare: yes, supplies: S8'],
  ].map(
    ([part, rest]) =>
      `      - { name: ${part}, label: ${options.byName ? part : numbers.get(part)}, ${rest} }\n`,
  );
  const from = original.indexOf('  parts:');
  const text = `${original.slice(0, from)}  labels:\n    file: ${file}\n    parts:\n${parts.join('')}${original.slice(original.indexOf('shelf:', from))}`;
  writeFileSync(join(dir, 'case.yaml'), options.edit?.(text) ?? text);
  return dir;
}

const resultOf = (dir: string): Result => JSON.parse(readFileSync(join(dir, 'plan', 'result.json'), 'utf8'));
/** The result of a case as in its file, without a printable model and without a folder. */
const planned = async (path: string): Promise<Result> =>
  JSON.parse(resultJson((await planResult(await measureCase(path))).result));

describe('a case with a label map', () => {
  const volume = labelVolume(lesion, [0.7, 0.7, 0.8]);
  let dir: string;
  let result: Result;
  beforeAll(() => {
    dir = caseWith('nifti', 'labels.nii.gz', gzipSync(niftiOf(volume)));
    expect(pavm(['plan', dir])).toMatchObject({ code: 0, stdout: '' });
    result = resultOf(dir);
  }, 400_000);

  it('gives the measurements of the lesion: landing calibres within 2 % or 0.1 mm, necks within 1 mm, sac within 2 %', () => {
    const truth = truthOfParts(lesion);
    expect(Math.abs(result.sac!.volume_ml! / truth.sacVolumeMl - 1)).toBeLessThan(0.02);
    for (const name of ['A1', 'A2']) {
      const { landing, neck, length_mm } = result.vessels![name];
      const exact = truth.vessels[name];
      expect(Math.abs(landing!.calibre_mm! - exact.landing!.calibreMm)).toBeLessThan(
        Math.max(0.1, 0.02 * exact.landing!.calibreMm),
      );
      expect(Math.abs(neck!.at_mm! - exact.neckAtMm!)).toBeLessThan(1);
      expect(Math.abs(length_mm! - exact.neckAtMm!)).toBeLessThan(1);
      const [low, high] = landing!.calibre_interval_mm!;
      expect(exact.landing!.calibreMm).toBeGreaterThan(low);
      expect(exact.landing!.calibreMm).toBeLessThan(high);
    }
    expect(Math.abs(result.vessels!.A1.branches![0].at_mm! - truth.vessels.A1.branches[0].atMm)).toBeLessThan(
      1.5,
    );
  });

  it('lists the label map among its inputs and prints the model', () => {
    expect(result.inputs.map(({ path }) => path)).toContain('labels.nii.gz');
    expect(result.print!.parts!.every((part) => part.watertight)).toBe(true);
  });

  it('gives the same numbers from NRRD and from a DICOM segmentation that names its segments', () => {
    const others = [
      caseWith('nrrd', 'labels.nrrd', nrrdOf(volume)),
      caseWith('seg', 'labels.dcm', segOf(volume, numbers), { byName: true }),
      caseWith('map', 'labels.dcm', segOf(volume, numbers, { labelMap: { bits: 8 } }), { byName: true }),
    ];
    const { stdout } = pavm(['close', dir, '--json']);
    expect(JSON.parse(stdout)).toBeTypeOf('object');
    for (const other of others) expect(pavm(['close', other, '--json'])).toMatchObject({ code: 0, stdout });
  });

  it('takes axes and resolution from the map where the case omits them, and says so', async () => {
    const map = niftiOf(volume);
    // xyzt_units (nifti1.h): none
    map[123] = 0;
    const bare = caseWith('bare', 'labels.nii.gz', gzipSync(map), {
      edit: (text) =>
        text.replace(/ {2}slice_thickness.*\n {2}in_plane.*\n/, '').replace(/ {2}frame: LPS\n/, ''),
    });
    const { findings, vessels } = await planned(bare);
    const ids = findings.map(({ id }) => id);
    expect(ids).toContain('resolution-from-labels');
    expect(findings.find(({ id }) => id === 'label-map-header')!.text).toContain('no unit of length');
    expect(ids).not.toContain('resolution-unknown');
    expect(ids).not.toContain('frame-assumed');
    expect(vessels!.A1.landing!.view).toEqual(result.vessels!.A1.landing!.view);
    // a case that claims a finer scan than the voxels of its map
    const finer = caseWith('finer', 'labels.nii.gz', gzipSync(niftiOf(volume)), {
      edit: (text) =>
        text
          .replace(/slice_thickness: .*/, 'slice_thickness: 0.25 mm')
          .replace(/in_plane: .*/, 'in_plane: 0.2 mm'),
    });
    const claimed = await planned(finer);
    expect(claimed.findings.find(({ id }) => id === 'resolution-from-labels')!.text).toContain(
      '0.80 mm (slices) and 0.70 mm (in plane), are coarser than the resolution that the case states, 0.25 mm and 0.20 mm',
    );
    const intervalOf = (one: Result['vessels']): unknown => one.A1.landing!.calibre_interval_mm;
    expect(intervalOf(claimed.vessels)).toEqual(intervalOf(vessels));
  });

  it('refuses a map without known axes where the case asks for a side', () => {
    const lost = niftiOf(volume);
    // qform_code and sform_code (nifti1.h)
    new DataView(lost.buffer, lost.byteOffset).setUint32(252, 0);
    const asked = caseWith('lost', 'labels.nii', lost);
    const ran = pavm(['plan', asked]);
    expect(ran.code).toBe(3);
    expect(ran.stderr).toMatch(/labels\.nii.*does not state its patient axes.*lesion\.side: left.*sform/);
    // the header alone decides, compressed or not
    const packed = caseWith('lost-packed', 'labels.nii.gz', gzipSync(lost));
    for (const dir of [asked, packed]) {
      const checked = pavm(['check', dir]);
      expect(checked.code).toBe(3);
      expect(checked.stderr).toMatch(
        /labels\.nii.*does not state its patient axes.*lesion\.side: left.*sform/,
      );
    }
    expect(pavm(['check', dir]).code).toBe(0);
  });

  it('refuses an image given as a label map, and inspect does not list its grey values', () => {
    const grey = { ...volume, labels: volume.labels.map((_, i) => (i * 37 + (i >> 5)) % 255) };
    const image = caseWith('image', 'labels.nii', niftiOf(grey));
    expect(pavm(['plan', image]).stderr).toMatch(
      /25[0-9] different values.*Give the label map, not the image/,
    );
    const ran = pavm(['inspect', join(image, 'labels.nii'), '--json']);
    expect(ran.code).toBe(0);
    expect(JSON.parse(ran.stdout)).not.toHaveProperty('labels');
    expect(JSON.parse(ran.stdout).no_labels_because).toContain('grey values of an image');
  });

  it('gives the same view in the other patient axes', async () => {
    const turned = caseWith('ras', 'labels.nii.gz', gzipSync(niftiOf(volume)), {
      edit: (text) => text.replace('frame: LPS', 'frame: RAS'),
    });
    const view = (await planned(turned)).vessels!.A1.landing!.view!;
    expect(view.lao_rao_deg).toBeCloseTo(result.vessels!.A1.landing!.view!.lao_rao_deg, 3);
    expect(view.cran_caud_deg).toBeCloseTo(result.vessels!.A1.landing!.view!.cran_caud_deg, 3);
  });

  it('can be turned into surfaces for a case, and they give the same lesion', async () => {
    const ran = pavm(['surface', dir, '--json']);
    expect(ran.code).toBe(0);
    const listed = JSON.parse(ran.stdout);
    expect(listed.surfaces.map((row: { file: string }) => row.file)).toEqual([
      'A1.stl',
      'A2.stl',
      'sac.stl',
      'V1.stl',
      'B1.stl',
    ]);
    const surfaces = readFileSync(join(dir, 'surfaces', 'surfaces.yaml'), 'utf8');
    const from = original.indexOf('surfaces:');
    const text =
      original.slice(0, from) +
      surfaces.replaceAll('mesh: ', 'mesh: surfaces/') +
      original.slice(original.indexOf('shelf:', from));
    writeFileSync(join(dir, 'parts.yaml'), text);
    const parts = await planned(join(dir, 'parts.yaml'));
    expect(result.lesion.kind).toBeDefined();
    expect(result.lesion).toEqual(parts.lesion);
    expect(result.vessels.B1.supplies).toBe('S8');
    expect(parts.sac!.volume_ml).toBeCloseTo(result.sac!.volume_ml!, 3);
    expect(parts.vessels!.A1.landing!.calibre_mm).toBeCloseTo(result.vessels!.A1.landing!.calibre_mm!, 2);
  });

  it.each<[string, (text: string) => string, RegExp]>([
    [
      'a label that no voxel has',
      (text) => text.replace('label: 1,', 'label: 9,'),
      /no voxel has the label 9 \(sac\)\. The file holds the labels 1, 2, 3, 4, 5\./,
    ],
    [
      'a label name where the file has none',
      (text) => text.replace('label: 1,', 'label: sac,'),
      /no label of the name "sac" \(sac\)\. It names no labels/,
    ],
  ])('is refused with %s', (_, edit, message) => {
    const wrong = caseWith(`wrong-${message.source.length}`, 'labels.nii.gz', gzipSync(niftiOf(volume)), {
      edit,
    });
    const ran = pavm(['plan', wrong]);
    expect(ran.code).toBe(3);
    expect(ran.stderr).toMatch(message);
    expect(ran.stderr.trim().split('\n')).toHaveLength(1);
  });

  it('reports a sac that reaches the edge of the map as cut off', () => {
    const [nx, ny, nz] = volume.sizes;
    const last = volume.labels.reduce(
      (far, label, i) => (label === 1 ? Math.max(far, Math.floor(i / (nx * ny))) : far),
      0,
    );
    const sizes: [number, number, number] = [nx, ny, Math.min(nz, last - 2)];
    const cut = { ...volume, sizes, labels: volume.labels.slice(0, sizes[0] * sizes[1] * sizes[2]) };
    const dir = caseWith('cut', 'labels.nii.gz', gzipSync(niftiOf(cut)), {
      edit: (text) => text.replace(/.*name: (A2|V1|B1).*\n/g, ''),
    });
    const ran = pavm(['surface', dir, '--json']);
    expect(JSON.parse(ran.stdout).findings.map((f: { id: string }) => f.id)).toContain('label-at-rim');
    // a segmentation omits slices without a label, so where it ends says nothing about the scan
    const seg = caseWith('cut-seg', 'labels.dcm', segOf(cut, numbers), {
      byName: true,
      edit: (text) => text.replace(/.*name: (A2|V1|B1).*\n/g, ''),
    });
    const said = JSON.parse(pavm(['surface', seg, '--json']).stdout).findings;
    expect(said.map((f: { id: string }) => f.id)).not.toContain('label-at-rim');
  });

  it('surface drops loose pieces below surfaces.drop_below, and counts them', () => {
    const spotted = { ...volume, labels: volume.labels.slice() };
    // three separate voxels of the feeder's label in a corner
    for (const x of [1, 4, 7]) spotted.labels[x] = numbers.get('A1')!;
    const dir = caseWith('spotted', 'labels.nii.gz', gzipSync(niftiOf(spotted)), {
      edit: (text) => text.replace(/^surfaces:\n/m, 'surfaces:\n  drop_below: 5 mm3\n'),
    });
    const ran = pavm(['surface', dir, '--json']);
    expect(ran.code).toBe(0);
    const { surfaces, findings } = JSON.parse(ran.stdout);
    const [said] = findings.filter((f: { id: string }) => f.id === 'loose-pieces');
    expect(said.text).toMatch(/^3 pieces below 5 mm3 \(surfaces\.drop_below\) were left out/);
    const written = readFileSync(join(dir, 'surfaces', 'A1.stl'));
    expect(written.readUInt32LE(80)).toBe(surfaces[0].triangles);
    const clean = JSON.parse(
      pavm(['surface', caseWith('clean', 'labels.nii.gz', gzipSync(niftiOf(volume))), '--json']).stdout,
    );
    expect(surfaces[0].triangles).toBe(clean.surfaces[0].triangles);
  });

  it('surface refuses a case without a label map', () => {
    const ran = pavm(['surface', 'cases/plover']);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toMatch(
      /case\.yaml:\d+:\d+ surface: the case names neither points in a scan nor a label map/,
    );
  });
});
