import { Readable } from 'node:stream';
import { gzipSync } from 'node:zlib';
import * as nifti from 'nifti-reader-js';
import { describe, expect, it } from 'vitest';
import { loadRules } from '../../../src/rules/load-rules.js';
import { greyHeader, readGreyValues } from '../../../src/volume/ct/grey-file.js';
import { valueAt, volumeHash } from '../../../src/volume/ct/grey-volume.js';
import { pickSeries, readFolder, readVoxels } from '../../../src/volume/ct/read-series.js';
import { type CtStack, ctFiles, inMemory, placeOf, STACK } from './ct-bytes.js';

const sourceOf = (bytes: Uint8Array) => {
  const buffer = Buffer.from(bytes);
  return {
    bytes: buffer.length,
    start: async (length: number) => buffer.subarray(0, length),
    all: async () => buffer,
    // in chunks that end within a row
    from: (offset: number) =>
      Readable.from(
        Array.from({ length: Math.ceil((buffer.length - offset) / 37) }, (_, i) =>
          buffer.subarray(offset + 37 * i, offset + 37 * (i + 1)),
        ),
      ),
  };
};

async function readGrey(bytes: Uint8Array) {
  const header = await greyHeader(sourceOf(bytes), 'a');
  return { header, volume: await readGreyValues(sourceOf(bytes), header, 'a') };
}

/** The stack as NIfTI-1 (nifti1.h, 2007) of 16-bit values with slope and intercept; RAS. */
function niftiOf(stack: CtStack, { slope = 1, inter = 0, reversed = false } = {}): Uint8Array {
  const { columns, rows, slices } = stack;
  const bytes = new Uint8Array(352 + 2 * columns * rows * slices);
  const view = new DataView(bytes.buffer);
  view.setInt32(0, 348, true);
  [3, columns, rows, slices, 1, 1, 1, 1].forEach((n, i) => {
    view.setInt16(40 + 2 * i, n, true);
  });
  view.setInt16(70, 4, true);
  view.setInt16(72, 16, true);
  [1, ...stack.spacing, 0, 0, 0, 0].forEach((n, i) => {
    view.setFloat32(76 + 4 * i, n, true);
  });
  view.setFloat32(108, 352, true);
  view.setFloat32(112, slope, true);
  view.setFloat32(116, inter, true);
  view.setUint8(123, 2);
  view.setInt16(254, 1, true);
  const slice = (k: number): number => (reversed ? slices - 1 - k : k);
  const at = (i: number, j: number, k: number) => placeOf(stack, i, j, slice(k));
  const o = at(0, 0, 0);
  const steps = [at(1, 0, 0), at(0, 1, 0), at(0, 0, 1)].map((p) => p.map((x, d) => x - o[d]));
  const ras = [-1, -1, 1];
  [0, 1, 2].forEach((d) => {
    [steps[0][d], steps[1][d], steps[2][d], o[d]].forEach((x, c) => {
      view.setFloat32(280 + 16 * d + 4 * c, ras[d] * x, true);
    });
  });
  bytes.set([0x6e, 0x2b, 0x31, 0], 344);
  let n = 352;
  for (let k = 0; k < slices; k++)
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++, n += 2)
        view.setInt16(n, Math.round((stack.value(i, j, slice(k), [0, 0, 0]) - inter) / slope), true);
  return bytes;
}

/** The stack as NRRD with 32-bit floats. */
function nrrdOf(stack: CtStack): Uint8Array {
  const { columns, rows, slices, spacing, origin } = stack;
  const header = `NRRD0004\ntype: float\ndimension: 3\nsizes: ${columns} ${rows} ${slices}\nspace: left-posterior-superior\nspace units: "mm" "mm" "mm"\nspace directions: (${spacing[0]},0,0) (0,${spacing[1]},0) (0,0,${spacing[2]})\nspace origin: (${origin.join(',')})\nendian: little\nencoding: raw\n\n`;
  const values = new Float32Array(columns * rows * slices);
  let n = 0;
  for (let k = 0; k < slices; k++)
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++) values[n++] = stack.value(i, j, k, [0, 0, 0]) + 0.2;
  return Buffer.concat([Buffer.from(header, 'latin1'), Buffer.from(values.buffer)]);
}

// half millimetres, so that 32-bit positions are exact
const EVEN: CtStack = { ...STACK, spacing: [0.5, 0.75, 1.25], origin: [-40.5, -20.25, 100] };

describe('grey values of NIfTI and NRRD', () => {
  it('are the volume of the DICOM series, compressed or not, sliced either way, scaled or not', async () => {
    const picked = pickSeries(await readFolder(inMemory(ctFiles(EVEN)), loadRules()));
    if (Array.isArray(picked)) throw new Error('no series');
    const wanted = volumeHash(await readVoxels(picked, inMemory(ctFiles(EVEN))));
    const plain = niftiOf(EVEN);
    for (const bytes of [
      plain,
      new Uint8Array(gzipSync(plain)),
      niftiOf(EVEN, { inter: -1024 }),
      niftiOf(EVEN, { reversed: true }),
      nrrdOf(EVEN),
    ])
      expect(volumeHash((await readGrey(bytes)).volume)).toBe(wanted);
  });
  it('are where nifti-reader-js puts them', async () => {
    const bytes = niftiOf(EVEN, { inter: -1000, slope: 2 });
    const header = nifti.readHeader(bytes.buffer as ArrayBuffer)!;
    const { volume } = await readGrey(bytes);
    const image = new Int16Array(nifti.readImage(header, bytes.buffer as ArrayBuffer));
    const [nx, ny] = [header.dims[1], header.dims[2]];
    for (const [i, j, k] of [
      [1, 2, 3],
      [10, 8, 6],
      [5, 5, 1],
    ]) {
      const p = header.affine.slice(0, 3).map((row) => row[0] * i + row[1] * j + row[2] * k + row[3]);
      const value = image[(k * ny + j) * nx + i] * header.scl_slope + header.scl_inter;
      expect(valueAt(volume, -p[0], -p[1], p[2])).toBeCloseTo(value, 3);
    }
  });
  it('are refused without their position in the patient, and where the data end early', async () => {
    const placeless = niftiOf(EVEN);
    placeless[254] = 0;
    await expect(readGrey(placeless)).rejects.toMatchObject({
      exitCode: 3,
      message: expect.stringContaining('does not state the patient axes'),
    });
    await expect(readGrey(niftiOf(EVEN).subarray(0, 1500))).rejects.toMatchObject({
      exitCode: 3,
      message: expect.stringContaining('claims 12 x 10 x 8 voxels'),
    });
    const nan = nrrdOf(EVEN);
    new DataView(nan.buffer, nan.byteOffset).setFloat32(nan.length - 8, Number.NaN, true);
    await expect(readGrey(nan)).rejects.toMatchObject({
      message: expect.stringContaining('voxel [10, 9, 7]'),
    });
  });
});
