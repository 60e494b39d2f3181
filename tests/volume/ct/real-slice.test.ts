/** A real CT slice under a free licence (real-slice/README.md), read by the program and by dcmtk. */
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { loadRules } from '../../../src/rules/load-rules.js';
import { valueAt, volumeHash } from '../../../src/volume/ct/grey-volume.js';
import { pickSeries, readFolder, readVoxels } from '../../../src/volume/ct/read-series.js';
import { inMemory } from './ct-bytes.js';
import { dcmtk, hasDcmtk } from './dcmtk.js';

const SLICE = join(import.meta.dirname, 'real-slice/slice.dcm');
const [COLUMNS, ROWS, SLICES, STEP_MM] = [128, 128, 3, 5];

async function read(files: readonly Uint8Array[]) {
  const picked = pickSeries(await readFolder(inMemory(files), loadRules()));
  if (Array.isArray(picked)) throw new Error(picked.join('\n'));
  if (picked.problems.length > 0) throw new Error(picked.problems.join('\n'));
  return { series: picked, volume: await readVoxels(picked, inMemory(files)) };
}

/** A number or numbers in the header, as printed by dcmtk. */
function tag(file: string, name: string): number[] {
  const said = dcmtk('dcmdump', ['+P', name, file]).toString();
  const text = /\[(.*?)\]|(?:SS|US) (\S+)/.exec(said);
  return (text?.[1] ?? text?.[2] ?? '').split('\\').map(Number);
}

describe.skipIf(!hasDcmtk)(
  'a real slice, and two copies of it 5 mm apart (skipped where dcmtk is missing)',
  () => {
    let folder: string;
    let paths: string[];
    beforeAll(() => {
      folder = mkdtempSync(join(tmpdir(), 'slice-'));
      const [x, y, z] = tag(SLICE, 'ImagePositionPatient');
      paths = Array.from({ length: SLICES }, (_, k) => {
        const path = join(folder, `${k}.dcm`);
        copyFileSync(SLICE, path);
        dcmtk('dcmodify', [
          '-nb',
          '-m',
          `ImagePositionPatient=${x}\\${y}\\${z + k * STEP_MM}`,
          '-m',
          `InstanceNumber=${k + 1}`,
          '-gin',
          path,
        ]);
        return path;
      });
    });
    afterAll(() => rmSync(folder, { recursive: true }));

    it('gives the values, places and spacing that dcmtk gives', async () => {
      const { series, volume } = await read(paths.map((path) => readFileSync(path)));
      dcmtk('dcmdump', ['+W', folder, paths[1]]);
      const raw = readFileSync(join(folder, readdirSync(folder).find((name) => name.endsWith('.raw'))!));
      const pixels = new Int16Array(raw.buffer, raw.byteOffset, COLUMNS * ROWS);
      const [[slope], [intercept]] = [tag(SLICE, 'RescaleSlope'), tag(SLICE, 'RescaleIntercept')];
      const [x0, y0, z0] = tag(paths[1], 'ImagePositionPatient');
      const [rowMm, columnMm] = tag(SLICE, 'PixelSpacing');
      let worst = 0;
      for (let j = 1; j < ROWS - 1; j++)
        for (let i = 1; i < COLUMNS - 1; i++) {
          const value = valueAt(volume, x0 + i * columnMm, y0 + j * rowMm, z0);
          worst = Math.max(worst, Math.abs(value - (slope * pixels[j * COLUMNS + i] + intercept)));
        }
      // between voxels that differ by 1000 HU a millionth of a pixel is a thousandth
      expect(worst).toBeLessThan(0.01);
      expect(new Set(pixels).size).toBeGreaterThan(500);
      expect(series.stackFacts).toMatchObject({ thicknessMm: 5, gaps: [] });
      for (const [k, mm] of [columnMm, rowMm, STEP_MM].entries())
        expect(series.stackFacts!.spacingMm[k]).toBeCloseTo(mm, 5);
      expect(series.facts).toMatchObject({
        date: '1997-04-30',
        kernel: 'STANDARD',
        kilovolts: 120,
        contrast: 'yes',
      });
    });

    it('is the same volume in each compression that dcmtk writes', async () => {
      const native = volumeHash((await read(paths.map((path) => readFileSync(path)))).volume);
      for (const [program, args] of [
        ['dcmconv', ['+ti']],
        ['dcmcrle', []],
        ['dcmcjpeg', ['+e1']],
        ['dcmcjpls', ['+el']],
      ] as const) {
        const packed = paths.map((path) => {
          dcmtk(program, [...args, path, `${path}.packed`]);
          return readFileSync(`${path}.packed`);
        });
        expect(volumeHash((await read(packed)).volume), program).toBe(native);
      }
    });
  },
);
