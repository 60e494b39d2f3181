import { cross, type Vec3 } from '../../../src/foundation/vector.js';
import { CT_IMAGE, dicomFile, type Element, joined, latin } from '../../../src/phantoms/dicom-bytes.js';
import type { SeriesFile } from '../../../src/volume/ct/image-header.js';

export { dicomFile, type Element, joined } from '../../../src/phantoms/dicom-bytes.js';

/** Compressed frames as the value of encapsulated pixel data, after an empty offset table (PS3.5 A.4). */
export function encapsulated(file: Uint8Array, frames: readonly Uint8Array[]): Uint8Array {
  const item = (length: number, tag = 0xe000): Uint8Array => {
    const head = new Uint8Array(8);
    const view = new DataView(head.buffer);
    view.setUint16(0, 0xfffe, true);
    view.setUint16(2, tag, true);
    view.setUint32(4, length, true);
    return head;
  };
  const head = new Uint8Array(12);
  const view = new DataView(head.buffer);
  view.setUint16(0, 0x7fe0, true);
  view.setUint16(2, 0x0010, true);
  head.set(latin('OB'), 4);
  view.setUint32(8, 0xffffffff, true);
  const even = frames.map((f) => (f.length % 2 === 0 ? f : joined(f, Uint8Array.of(0))));
  return joined(file, head, item(0), ...even.flatMap((f) => [item(f.length), f]), item(0, 0xe0dd));
}

/** A CT stack in memory. Everything but the sizes may be omitted. */
export interface CtStack {
  columns: number;
  rows: number;
  slices: number;
  /** Between columns, rows and slices, mm. */
  spacing: Vec3;
  /** Centre of the first pixel of the first slice. */
  origin: Vec3;
  along: Vec3;
  down: Vec3;
  /** Step from a slice to the next; along the normal if omitted. */
  step?: Vec3;
  thickness?: number;
  slope: number;
  intercept: number;
  isSigned: boolean;
  bitsStored: number;
  /** Hounsfield value of a voxel. */
  value: (i: number, j: number, k: number, at: Vec3) => number;
  /** Elements of every slice, in place of the usual ones; those of one slice last. */
  elements?: readonly Element[];
  ofSlice?: (k: number) => readonly Element[];
}

export const STACK: CtStack = {
  columns: 12,
  rows: 10,
  slices: 8,
  spacing: [0.7, 0.8, 1.25],
  origin: [-40.5, -20.25, 100],
  along: [1, 0, 0],
  down: [0, 1, 0],
  thickness: 1.25,
  slope: 1,
  intercept: -1024,
  isSigned: false,
  bitsStored: 12,
  value: (i, j, k) => -1000 + 150 * i + 7 * j + 31 * k,
};

const plus = (a: Vec3, b: Vec3, s: number): Vec3 => [a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2]];

/** Centre of a voxel, mm LPS. */
export function placeOf(stack: CtStack, i: number, j: number, k: number): Vec3 {
  const step = stack.step ?? plus([0, 0, 0], cross(stack.along, stack.down), stack.spacing[2]);
  const first = plus(stack.origin, step, k);
  return plus(plus(first, stack.along, i * stack.spacing[0]), stack.down, j * stack.spacing[1]);
}

/** Stored pixels of one slice, 16 bits little endian. */
export function pixelsOf(stack: CtStack, k: number): Uint8Array {
  const pixels = new Int16Array(stack.columns * stack.rows);
  for (let j = 0; j < stack.rows; j++)
    for (let i = 0; i < stack.columns; i++) {
      const hu = stack.value(i, j, k, placeOf(stack, i, j, k));
      pixels[j * stack.columns + i] = Math.round((hu - stack.intercept) / stack.slope);
    }
  return new Uint8Array(pixels.buffer);
}

export const decimals = (...values: number[]): string =>
  values.map((v) => String(Number(v.toFixed(6))).slice(0, 16)).join('\\');

/** Words that must not reach any output. */
export const SECRETS = [
  'SECRET^NAME',
  'HIDDEN-ID-4711',
  '19630214',
  'Dr Whisper',
  'Quiet Hospital',
  'Low voices study',
  'Unsaid series',
  '2.25.777',
] as const;

/** What the header of a slice says, without its pixels. */
export function headerOf(stack: CtStack, k: number): Element[] {
  return [
    [0x00080008, 'CS', 'ORIGINAL\\PRIMARY\\AXIAL'],
    [0x00080016, 'UI', CT_IMAGE],
    [0x00080018, 'UI', `2.25.777.4.${k + 1}`],
    [0x00080020, 'DA', '20260314'],
    [0x00080021, 'DA', '20260314'],
    [0x00080022, 'DA', '20260314'],
    [0x00080060, 'CS', 'CT'],
    [0x00080080, 'LO', SECRETS[4]],
    [0x00080090, 'PN', SECRETS[3]],
    [0x00081030, 'LO', SECRETS[5]],
    [0x0008103e, 'LO', SECRETS[6]],
    [0x00100010, 'PN', SECRETS[0]],
    [0x00100020, 'LO', SECRETS[1]],
    [0x00100030, 'DA', SECRETS[2]],
    [0x00180010, 'LO', 'IODINE 350'],
    ...(stack.thickness === undefined
      ? []
      : ([[0x00180050, 'DS', decimals(stack.thickness)]] satisfies Element[])),
    [0x00180060, 'DS', '100'],
    [0x00181210, 'SH', 'Bv40'],
    [0x00185100, 'CS', 'HFS'],
    [0x0020000d, 'UI', '2.25.777.1'],
    [0x0020000e, 'UI', '2.25.777.2'],
    [0x00200011, 'IS', '4'],
    [0x00200013, 'IS', String(k + 1)],
    [0x00200032, 'DS', decimals(...placeOf(stack, 0, 0, k))],
    [0x00200037, 'DS', decimals(...stack.along, ...stack.down)],
    [0x00200052, 'UI', '2.25.777.3'],
    [0x00280002, 'US', 1],
    [0x00280004, 'CS', 'MONOCHROME2'],
    [0x00280010, 'US', stack.rows],
    [0x00280011, 'US', stack.columns],
    [0x00280030, 'DS', decimals(stack.spacing[1], stack.spacing[0])],
    [0x00280100, 'US', 16],
    [0x00280101, 'US', stack.bitsStored],
    [0x00280102, 'US', stack.bitsStored - 1],
    [0x00280103, 'US', stack.isSigned ? 1 : 0],
    [0x00281052, 'DS', decimals(stack.intercept)],
    [0x00281053, 'DS', decimals(stack.slope)],
    [0x00281054, 'LO', 'HU'],
    ...(stack.elements ?? []),
    ...(stack.ofSlice?.(k) ?? []),
  ];
}

/** One file per slice, in the order of the stack. */
export function ctFiles(changes: Partial<CtStack> = {}): Uint8Array[] {
  const stack = { ...STACK, ...changes };
  return Array.from({ length: stack.slices }, (_, k) =>
    dicomFile([...headerOf(stack, k), [0x7fe00010, 'OW', pixelsOf(stack, k)]]),
  );
}

/** One enhanced CT object (PS3.3 A.38) that contains every slice as a frame, in any order. */
export function multiFrame(changes: Partial<CtStack> = {}, order?: readonly number[]): Uint8Array {
  const stack = { ...STACK, ...changes };
  const frames = order ?? Array.from({ length: stack.slices }, (_, k) => k);
  const drop = new Set([0x00200032, 0x00200037, 0x00280030, 0x00281052, 0x00281053, 0x00180050, 0x00181210]);
  const shared: Element[] = [
    [0x00209116, 'SQ', [[[0x00200037, 'DS', decimals(...stack.along, ...stack.down)]]]],
    [
      0x00289110,
      'SQ',
      [
        [
          [0x00180050, 'DS', decimals(stack.thickness ?? stack.spacing[2])],
          [0x00280030, 'DS', decimals(stack.spacing[1], stack.spacing[0])],
        ],
      ],
    ],
    [
      0x00289145,
      'SQ',
      [
        [
          [0x00281052, 'DS', decimals(stack.intercept)],
          [0x00281053, 'DS', decimals(stack.slope)],
          [0x00281054, 'LO', 'HU'],
        ],
      ],
    ],
    [0x00189314, 'SQ', [[[0x00181210, 'SH', 'Bv40']]]],
  ];
  return dicomFile([
    ...headerOf(stack, 0).filter(([tag]) => !drop.has(tag)),
    [0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2.1'],
    [0x00280008, 'IS', String(frames.length)],
    [0x52009229, 'SQ', [shared]],
    [
      0x52009230,
      'SQ',
      frames.map((k): Element[] => [
        [0x00209113, 'SQ', [[[0x00200032, 'DS', decimals(...placeOf(stack, 0, 0, k))]]]],
      ]),
    ],
    [0x7fe00010, 'OW', joined(...frames.map((k) => pixelsOf(stack, k)))],
  ]);
}

/** Files in memory as the reader accepts them. */
export const inMemory = (files: readonly Uint8Array[]): SeriesFile[] =>
  files.map((bytes) => ({
    bytes: bytes.length,
    read: async (offset, length) => bytes.subarray(offset, offset + length),
  }));
