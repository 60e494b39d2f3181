import {
  cpSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readCase } from '../../src/case/read-case.js';
import { scanInput, scanOfCase } from '../../src/cli/scan/scan-of-case.js';
import { unchangedPlan } from '../../src/cli/plan/unchanged-plan.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { type CtStack, ctFiles, multiFrame, SECRETS } from '../volume/ct/ct-bytes.js';
import { pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-scan-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A stack around the lesion of the demo case wren, with voxels of 0.7 x 0.8 x 1.25 mm. */
const CHEST: Partial<CtStack> = { columns: 24, rows: 20, slices: 16 };
const rules = loadRules();
const NAMES = ['SECRET_NAME', 'HIDDEN'];

/** A folder of slices whose file names are identifying too. */
function series(folder: string, files: readonly Uint8Array[]): void {
  mkdirSync(folder, { recursive: true });
  files.forEach((bytes, i) => {
    writeFileSync(join(folder, `${NAMES.join('_')}_2.25.777.4.${String(i).padStart(3, '0')}.dcm`), bytes);
  });
}

/** A copy of the demo case wren with these lines as its scan block. */
function caseWith(as: string, scan: string, files: readonly Uint8Array[] = ctFiles(CHEST)): string {
  const folder = join(work, as);
  cpSync('cases/wren', folder, {
    recursive: true,
    filter: (from) => !/[\\/](plan|print)([\\/]|$)/.test(from),
  });
  const text = readFileSync(join(folder, 'case.yaml'), 'utf8');
  const without = text.replace(/^scan:.*\n(?: .*\n)*/m, '');
  writeFileSync(join(folder, 'case.yaml'), `${without}\nscan: ${scan}\n`);
  series(join(folder, 'ct'), files);
  return folder;
}

const said: string[] = [];
function run(args: string[]) {
  const ran = pavm(args, { cwd: work });
  said.push(ran.stdout, ran.stderr);
  return ran;
}
const resultOf = (folder: string) => JSON.parse(readFileSync(join(folder, 'plan', 'result.json'), 'utf8'));

afterAll(() => {
  // no identifier has reached a terminal or a file
  const written = readdirSync(work, { recursive: true, withFileTypes: true })
    .filter((e) => e.isFile() && /[\\/]plan([\\/]|$)/.test(e.parentPath))
    .map((e) => readFileSync(join(e.parentPath, e.name), 'latin1'));
  expect(written.length).toBeGreaterThan(10);
  for (const text of [...said, ...written])
    for (const secret of [...SECRETS, ...NAMES]) expect(text.includes(secret), secret).toBe(false);
});

describe('pavm plan with a series', () => {
  let filled: string;
  beforeAll(() => {
    filled = caseWith('filled', '{ series: ct }');
    const { code, stderr } = run(['plan', 'filled', '--today', '2026-04-01']);
    expect(code, stderr).toBe(1);
    expect(stderr).toContain('The surface is not in this scan');
  }, 120_000);

  it('fills in what the case leaves open, and describes the series', () => {
    const result = resultOf(filled);
    expect(result.scan).toEqual({
      agrees: 'yes',
      slices: 16,
      spacing_mm: [0.7, 0.8, 1.25],
      thickness_mm: 1.25,
      gaps: [],
      tilt_deg: 0,
      plane: 'transverse',
      patient_position: 'HFS',
      kernel: 'Bv40',
      tube_voltage_kv: 100,
      contrast: 'yes',
      date: '2026-03-14',
    });
    expect(result.scan_date).toBe('2026-03-14');
    // the stack does not show the lesion
    expect(result.frame.verdict).toBe('elsewhere');
    const ids = result.findings.map((f: { id: string }) => f.id);
    expect(ids).toContain('scan-filled');
    expect(ids).not.toContain('resolution-unknown');
    expect(ids).not.toContain('images-not-checked');
    const plan = readFileSync(join(filled, 'plan', 'plan.md'), 'utf8');
    expect(plan).toContain(
      'CT series: 16 slices, transverse, 1.25 mm thick, voxels of 0.7 x 0.8 x 1.25 mm, patient position HFS, kernel Bv40, 100 kV, contrast agent yes.',
    );
  });

  it('gives one hash for the same voxels: one object, another order, other names', async () => {
    const own = resultOf(filled).inputs.find((row: { path: string }) => row.path === 'ct');
    expect(own).toMatchObject({ bytes: 2 * 24 * 20 * 16, sha256: expect.stringMatching(/^[0-9a-f]{64}$/) });
    const others = {
      'one-object': [multiFrame(CHEST, [...Array(16).keys()].reverse())],
      reversed: ctFiles(CHEST).reverse(),
    };
    for (const [name, files] of Object.entries(others)) {
      const { case: patientCase } = await readCase(caseWith(name, '{ series: ct }', files));
      const { open, scan } = await scanOfCase(patientCase, name, rules);
      expect(scan).toEqual(resultOf(filled).scan);
      expect(scanInput('ct', await open!.voxels())).toEqual(own);
    }
  });

  it('stays up to date when files are renamed, but not when a voxel changes or the series breaks', async () => {
    const standing = async () =>
      (await unchangedPlan(await readCase(filled), join(filled, 'plan'), { rules, today: '2026-04-01' })) !==
      undefined;
    expect(await standing()).toBe(true);
    const folder = join(filled, 'ct');
    const [name] = readdirSync(folder).sort();
    renameSync(join(folder, name), join(folder, 'zz.dcm'));
    expect(await standing()).toBe(true);
    writeFileSync(join(folder, name), readFileSync(join(folder, 'zz.dcm')));
    expect(await standing()).toBe(false);
    const changed = readFileSync(join(folder, 'zz.dcm'));
    changed[changed.length - 2] ^= 1;
    rmSync(join(folder, 'zz.dcm'));
    writeFileSync(join(folder, name), changed);
    expect(await standing()).toBe(false);
  });

  it('stops at fields that contradict the header, and names both values, all at once', () => {
    caseWith(
      'contradicts',
      '{ date: 2026-03-15, slice_thickness: 0.5 mm, in_plane: 0.3 mm, series: ct }',
      ctFiles({ ...CHEST, slices: 16 }).filter((_, k) => k !== 8),
    );
    for (const command of ['plan', 'check']) {
      const { code, stderr } = run([command, 'contradicts']);
      expect(code).toBe(2);
      for (const text of [
        /case\.yaml:\d+:\d+ scan\.date: the case says 2026-03-15, the header of the series 2026-03-14/,
        /scan\.slice_thickness: the case says 0\.5 mm, the header of the series 1\.25 mm/,
        /scan\.in_plane: the case says 0\.3 mm, the header of the series 0\.800 mm/,
        /Slices are missing, about 1: after z = 108\.75 mm/,
      ])
        expect(stderr).toMatch(text);
    }
  });

  it('accepts what agrees within the digits written', () => {
    caseWith('agrees', '{ date: 2026-03-14, slice_thickness: 1.3 mm, in_plane: 0.08 cm, series: ct }');
    expect(run(['check', 'agrees'])).toMatchObject({ code: 0 });
    caseWith('barely', '{ slice_thickness: 1.30 mm, series: ct }');
    expect(run(['check', 'barely']).code).toBe(2);
  });

  it('a stack with missing slices is a stop in check and plan', async () => {
    const folder = caseWith(
      'gap',
      '{ series: ct }',
      ctFiles(CHEST).filter((_, k) => k !== 8),
    );
    expect(run(['check', 'gap'])).toMatchObject({
      code: 1,
      stderr: expect.stringContaining('Slices are missing'),
    });
    const { scan, findings } = await scanOfCase((await readCase(folder)).case, 'gap', rules);
    expect(scan.gaps).toEqual([{ after_mm: 108.75, step_mm: 2.5 }]);
    expect(findings).toContainEqual(expect.objectContaining({ id: 'scan-slices-missing', level: 'stop' }));
  });

  it.each([
    [
      'doubled',
      [...ctFiles(CHEST), ctFiles(CHEST)[4]],
      /One place contains more than one slice: z = 105\.00 mm/,
    ],
    [
      'cut',
      ctFiles(CHEST).map((b, k) => (k === 3 ? b.subarray(0, b.length - 9) : b)),
      /it is cut off \(file 4 of 16/,
    ],
    [
      'two-series',
      [
        ...ctFiles(CHEST),
        ...ctFiles({
          ...CHEST,
          thickness: 3,
          elements: [
            [0x0020000e, 'UI', '2.25.779'],
            [0x00200011, 'IS', '9'],
          ],
        }),
      ],
      /holds 2 CT series: number 4 \(16 slices, 1\.25 mm thick\); number 9 \(16 slices, 3\.00 mm thick\)\. Pick one with scan\.series_number/,
    ],
    [
      'orientations',
      ctFiles({ ...CHEST, ofSlice: (k) => (k > 9 ? [[0x00200037, 'DS', '0\\1\\0\\0\\0\\-1']] : []) }),
      /slices of two orientations/,
    ],
    [
      'modality',
      ctFiles({
        elements: [
          [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.4'],
          [0x00080060, 'CS', 'MR'],
        ],
      }),
      /contains no CT image, but 8 files of modality MR/,
    ],
  ] as [string, Uint8Array[], RegExp][])(
    '%s: refused by check and plan with place and remedy',
    async (name, files, message) => {
      const folder = caseWith(name, '{ series: ct }', files);
      const { code, stderr } = run(['check', name]);
      expect(code).toBe(3);
      expect(stderr).toMatch(message);
      expect(stderr).toMatch(/case\.yaml:\d+:\d+ scan\.series: "ct"/);
      const { case: patientCase } = await readCase(folder);
      await expect(scanOfCase(patientCase, name, rules)).rejects.toMatchObject({
        exitCode: 3,
        message: expect.stringMatching(message),
      });
    },
  );

  it('says what is not a series: a folder of folders, a file of another kind', () => {
    const folder = caseWith('folders', '{ series: above }');
    mkdirSync(join(folder, 'above'));
    renameSync(join(folder, 'ct'), join(folder, 'above', 'ct'));
    expect(run(['check', 'folders'])).toMatchObject({
      code: 3,
      stderr: expect.stringContaining(
        '"above": it contains no file, but a folder. Give the folder that contains the slices.',
      ),
    });
    writeFileSync(join(caseWith('file', '{ series: letter }'), 'letter'), 'Dear colleague');
    expect(run(['check', 'file'])).toMatchObject({
      code: 3,
      stderr: expect.stringContaining(
        '"letter": it is not a DICOM object or a NIfTI or NRRD volume. Give the folder',
      ),
    });
  });

  it('picks a series by its number', () => {
    const second = ctFiles({
      ...CHEST,
      thickness: 3,
      elements: [
        [0x0020000e, 'UI', '2.25.779'],
        [0x00200011, 'IS', '9'],
      ],
    });
    caseWith('picked', '{ series: ct, series_number: 9 }', [...ctFiles(CHEST), ...second]);
    expect(run(['check', 'picked']).code).toBe(0);
  });
});

describe('pavm inspect on a folder of slices', () => {
  const inspected = (name: string, files: readonly Uint8Array[]) => {
    series(join(work, name), files);
    const { code, stderr, stdout } = run(['inspect', name, '--json']);
    return { code, stderr, report: JSON.parse(stdout) };
  };
  it('reports geometry, header and values, and that the series identifies a patient', () => {
    const { code, report, stderr } = inspected('plain-ct', ctFiles(CHEST));
    expect(code).toBe(0);
    expect(report.ct_series).toMatchObject([
      {
        series_number: 4,
        slices: 16,
        spacing_mm: [0.7, 0.8, 1.25],
        thickness_mm: 1.25,
        plane: 'transverse',
        date: '2026-03-14',
        contrast: 'yes',
        pixel_data: ['uncompressed'],
        hu: { lowest: -1000, highest: 3048 },
        usable: 'yes',
        findings: [],
      },
    ]);
    expect(report.identified).toBe('yes');
    expect(stderr).toMatch(/It carries what identifies a patient: .*patient's name/);
    expect(run(['inspect', 'plain-ct']).stdout).toContain(
      'CT series            number 4: 16 slices of 24 x 20, transverse, HFS, 1.25 mm thick, pixels 0.700 x 0.800 mm, steps 1.250 mm',
    );
  });
  it('says what is wrong with a stack, and exits with 1', () => {
    const { code, report, stderr } = inspected(
      'gap-ct',
      ctFiles(CHEST).filter((_, k) => k !== 8),
    );
    expect(code).toBe(1);
    expect(report.ct_series[0].gaps).toEqual([{ after_mm: 108.75, step_mm: 2.5 }]);
    expect(stderr).toMatch(/^stop gap-ct series 4: Slices are missing/m);
    const doubled = inspected('doubled-ct', [...ctFiles(CHEST), ctFiles(CHEST)[4]]);
    expect(doubled.report.ct_series[0]).toMatchObject({
      usable: 'no',
      findings: [{ id: 'scan-unusable', level: 'stop' }],
    });
  });
  it('a damaged file neither hides the others nor shows its name', () => {
    const files = ctFiles(CHEST);
    files[5] = files[5].subarray(0, 300);
    const { code, stderr, report } = inspected('damaged-ct', files);
    expect(code).toBe(1);
    expect(stderr).toContain('file 6 of 16 in the order of names');
    expect(report.ct_series[0].slices).toBe(15);
  });
});
