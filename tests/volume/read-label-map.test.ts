import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import fc from 'fast-check';
import { readHeader } from 'nifti-reader-js';
import { afterAll, describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import type { LabelMap } from '../../src/volume/label-map.js';
import { readLabelMap } from '../../src/volume/read-label-map.js';
import { segOf } from './dicom-seg-bytes.js';
import { type LabelVolume, niftiOf, nrrdOf } from './label-volume.js';

const dir = mkdtempSync(join(tmpdir(), 'pavm-volume-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

let files = 0;
async function read(bytes: Uint8Array, wanted: (string | number)[] = [1, 2, 7]): Promise<LabelMap> {
  const path = join(dir, `map-${files++}`);
  writeFileSync(path, bytes);
  return readLabelMap(path, {
    shown: 'labels',
    unitMm: 1,
    wanted: (names) => wanted.map((label) => (typeof label === 'number' ? label : names.get(label)!)),
  });
}

const failure = (bytes: Uint8Array): Promise<string> =>
  read(bytes).then(
    () => 'read',
    (error) =>
      error instanceof InputFailure ? `${error.exitCode} ${error.problems.join()}` : `CRASH ${error.stack}`,
  );

/** A small volume with labels in blocks, voxels at each border, and label 7 in a single voxel. */
const volume = (): LabelVolume => {
  const sizes: [number, number, number] = [7, 5, 6];
  const labels = new Uint8Array(7 * 5 * 6);
  const set = (i: number, j: number, k: number, label: number): void => {
    labels[i + 7 * (j + 5 * k)] = label;
  };
  for (let k = 1; k < 4; k++) for (let j = 0; j < 3; j++) for (let i = 0; i < 4; i++) set(i, j, k, 1);
  for (let j = 1; j < 5; j++) for (let i = 4; i < 7; i++) set(i, j, 5, 2);
  for (let i = 0; i < 7; i += 2) set(i, 4, 0, 2);
  set(3, 3, 2, 7);
  return { sizes, spacing: [0.7, 0.8, 1.25], origin: [-30.5, 12.25, 100], labels };
};

/** Labels again, voxel by voxel, from the runs. */
function unpacked(map: LabelMap): number[] {
  const [nx, ny, nz] = map.grid.sizes;
  const out = new Array<number>(nx * ny * nz).fill(0);
  for (const [label, runs] of map.labels)
    for (let k = 0; k < nz; k++)
      runs.inSlice(k, (j, first, end) => {
        out.fill(label, first + nx * (j + ny * k), end + nx * (j + ny * k));
      });
  return out;
}

/** The voxels of the volume as another type. */
function as(
  type: number,
  bytesEach: number,
  put: (view: DataView, at: number, value: number) => void,
): Uint8Array {
  const v = volume();
  const head = niftiOf(v).slice(0, 352);
  const view = new DataView(head.buffer);
  view.setInt16(70, type, true);
  const body = new Uint8Array(v.labels.length * bytesEach);
  for (const [i, label] of v.labels.entries()) put(new DataView(body.buffer), i * bytesEach, label);
  return Uint8Array.from([...head, ...body]);
}

const names = new Map([
  ['sac', 1],
  ['A1', 2],
  ['spot', 7],
]);
const sound: [string, Uint8Array][] = [
  ['NIfTI, one byte', niftiOf(volume())],
  ['NIfTI, compressed', gzipSync(niftiOf(volume()))],
  ['NIfTI, two bytes', as(512, 2, (view, at, x) => view.setUint16(at, x, true))],
  ['NIfTI, four bytes', as(8, 4, (view, at, x) => view.setInt32(at, x, true))],
  ['NIfTI, floating point', as(16, 4, (view, at, x) => view.setFloat32(at, x, true))],
  ['NRRD, raw', nrrdOf(volume())],
  ['NRRD, compressed', nrrdOf(volume(), gzipSync(volume().labels), 'gzip')],
  ['DICOM segmentation', segOf(volume(), names)],
  ['DICOM segmentation, fractional', segOf(volume(), names, { fractional: true })],
  ['DICOM label map segmentation', segOf(volume(), names, { labelMap: { bits: 8 } })],
  [
    'DICOM label map segmentation, 16 bits, its own background',
    segOf(volume(), names, { labelMap: { bits: 16, background: 65535 } }),
  ],
];

it('reads the names of labels in an NRRD header', async () => {
  const named = nrrdOf(
    volume(),
    volume().labels,
    'raw\nlabel 2:=sac\nlabel 7:=A1, lower: main\nnote:=label 1',
  );
  const { names: found } = await read(named);
  expect([...found]).toEqual([
    ['sac', 2],
    ['A1, lower: main', 7],
  ]);
});

describe.each(sound)('%s', (_, bytes) => {
  it('gives every voxel and its position', async () => {
    const map = await read(bytes);
    const { grid } = map;
    expect(unpacked(map)).toEqual([...volume().labels]);
    expect(grid.isOriented).toBe(true);
    for (const [i, x] of [-30.5, 12.25, 100].entries()) expect(grid.origin[i]).toBeCloseTo(x, 4);
    const steps = [
      [0.7, 0, 0],
      [0, 0.8, 0],
      [0, 0, 1.25],
    ];
    for (let i = 0; i < 3; i++)
      for (let k = 0; k < 3; k++) expect(grid.axes[i][k]).toBeCloseTo(steps[i][k], 5);
    expect(map.present).toEqual([
      { label: 1, voxels: 36 },
      { label: 2, voxels: 16 },
      { label: 7, voxels: 1 },
    ]);
    expect(map.labels.get(7)?.voxels).toBe(1);
  });
});

describe('where the voxels of a NIfTI file lie', () => {
  const turned = (): Uint8Array => {
    const bytes = niftiOf(volume());
    const view = new DataView(bytes.buffer);
    view.setInt16(252, 1, true);
    view.setInt16(254, 0, true);
    [0.2, -0.5, 0.3].forEach((q, i) => {
      view.setFloat32(256 + 4 * i, q, true);
    });
    [11, -12, 13].forEach((q, i) => {
      view.setFloat32(268 + 4 * i, q, true);
    });
    return bytes;
  };

  // nifti-reader-js 0.8.0 (MIT), an independent reader
  it.each([1, -1])(
    'is what an independent reader computes from the quaternion, handedness %i',
    async (hand) => {
      const bytes = turned();
      new DataView(bytes.buffer).setFloat32(76, hand, true);
      const { affine } = readHeader(bytes.buffer as ArrayBuffer)!;
      const { grid } = await read(bytes);
      const sign = [-1, -1, 1];
      for (let row = 0; row < 3; row++) {
        for (let c = 0; c < 3; c++) expect(grid.axes[c][row]).toBeCloseTo(sign[row] * affine[row][c], 4);
        expect(grid.origin[row]).toBeCloseTo(sign[row] * affine[row][3], 4);
      }
    },
  );

  it('is reported as unknown where the header does not say', async () => {
    const bytes = niftiOf(volume());
    new DataView(bytes.buffer).setInt16(254, 0, true);
    const { grid } = await read(bytes);
    expect(grid.isOriented).toBe(false);
    expect(grid.notes.join()).toContain('does not state its patient axes');
  });
});

describe('an unusable label map', () => {
  const changed = (change: (view: DataView, bytes: Uint8Array) => void): Uint8Array => {
    const bytes = niftiOf(volume());
    change(new DataView(bytes.buffer), bytes);
    return bytes;
  };
  it.each<[string, Uint8Array, RegExp]>([
    ['is truncated', niftiOf(volume()).slice(0, 500), /claims 7 x 5 x 6 voxels.*cut short/],
    [
      'is truncated within its compressed data',
      gzipSync(niftiOf(volume())).slice(0, -20),
      /damaged or cut off|cut short/,
    ],
    ['has only a header', niftiOf(volume()).slice(0, 300), /damaged or cut off/],
    [
      'is above the limit',
      changed((view) => {
        for (const at of [42, 44, 46]) view.setInt16(at, 20000, true);
      }),
      /more than the 2097152000/,
    ],
    ['has an axis without voxels', changed((view) => view.setInt16(44, 0, true)), /7 x 0 x 6 voxels/],
    [
      'is a time series',
      changed((view) => view.setInt16(40, 4, true) === undefined && view.setInt16(48, 3, true)),
      /4 axes/,
    ],
    ['is scaled', changed((view) => view.setFloat32(112, 2, true)), /scaled/],
    ['has colours', changed((view) => view.setInt16(70, 128, true)), /data type 128/],
    ['has coplanar axes', changed((view) => view.setFloat32(280 + 32 + 8, 0, true)), /do not span a volume/],
    [
      'has an axis that is not a number',
      changed((view) => view.setFloat32(280, Number.NaN, true)),
      /do not span a volume/,
    ],
    [
      'is an image',
      as(16, 4, (view, at, x) => view.setFloat32(at, x * 10.5 - 3, true)),
      /voxel \[0, 0, 0\]: its value -3/,
    ],
    [
      'is an NRRD header with separate data',
      nrrdOf(volume(), new Uint8Array(0), 'raw\ndata file: voxels.raw'),
      /several files/,
    ],
    [
      'is an NRRD file with text encoding',
      nrrdOf(volume(), volume().labels, 'ascii'),
      /encoding is not read/,
    ],
    ['is an NRRD file whose header has no end', nrrdOf(volume()).slice(0, 60), /no end/],
    [
      'is a DICOM image',
      segOf(volume(), names, { sopClass: '1.2.840.10008.5.1.4.1.1.2' }),
      /not a segmentation object/,
    ],
    [
      'is a compressed segmentation',
      segOf(volume(), names, { transferSyntax: '1.2.840.10008.1.2.5' }),
      /compressed|damaged/,
    ],
    ['is a truncated segmentation', segOf(volume(), names).slice(0, -40), /pixels|damaged/],
  ])('%s', async (_, bytes, message) => {
    const said = await failure(bytes);
    expect(said).toMatch(/^3 labels/);
    expect(said).toMatch(message);
    expect(said).not.toContain('SECRET');
  });

  it('of a fractional segmentation says at which level it was thresholded', async () => {
    const { grid } = await read(segOf(volume(), names, { fractional: true }));
    expect(grid.notes).toEqual([expect.stringMatching(/cut at 50 %, voxels of at least 128 of 255/)]);
    expect((await read(segOf(volume(), names))).grid.notes).toEqual([]);
  });

  it('is read no farther than its header claims: data packed after that cost nothing', async () => {
    const bomb = gzipSync(Buffer.concat([niftiOf(volume()), Buffer.alloc(64 << 20)]));
    const map = await read(bomb);
    expect(unpacked(map)).toEqual([...volume().labels]);
  });

  it('is read where its labels are scattered like noise', async () => {
    const noisy = volume();
    noisy.labels.fill(0);
    for (let i = 0; i < noisy.labels.length; i += 2) noisy.labels[i] = 1;
    expect((await read(niftiOf(noisy))).labels.get(1)?.voxels).toBe(105);
  });

  it('ends in a message whatever is changed in it (seed 11)', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.constantFrom(...sound.map(([, bytes]) => bytes)),
        fc.array(fc.tuple(fc.nat(2000), fc.nat(255)), { minLength: 1, maxLength: 8 }),
        fc.nat(3000),
        async (bytes, edits, cut) => {
          const copy = Uint8Array.from(bytes);
          for (const [at, value] of edits) copy[at % copy.length] = value;
          const said = await failure(cut < copy.length && cut > 0 ? copy.slice(0, copy.length - cut) : copy);
          expect(said).toMatch(/^(read|3 labels)/);
        },
      ),
      { numRuns: process.env.PAVM_LONG ? 5000 : 300, seed: 11 },
    );
  });
});
