import { cross, dot, length, scale, type Vec3 } from '../../foundation/vector.js';
import { refuse } from '../../mesh/read/mesh-file.js';
import type { VoxelGrid } from '../label-map.js';
import { NIFTI_HEADER_BYTES, niftiHeader } from '../nifti.js';
import { NRRD_HEADER_BYTES, nrrdHeader } from '../nrrd.js';
import { type ByteSource, feed } from '../read-label-map.js';
import { decodeVoxels, type VoxelFormat, voxelBytes } from '../voxel-reader.js';
import type { GreyVolume } from './grey-volume.js';
import { normalOf } from './image-header.js';
import type { SliceStack, StackFacts } from './slice-stack.js';

/** Header of a NIfTI or NRRD volume of grey values. */
export interface GreyHeader {
  kind: 'NIfTI' | 'NRRD';
  stack: SliceStack;
  stackFacts: StackFacts;
  /** The slices of the file run against the normal. */
  isReversed: boolean;
  format: VoxelFormat;
  offset: number;
  isPacked: boolean;
  slope: number;
  inter: number;
}

/** A deflated stream expands to at most this many times its size (RFC 1951: 258 bytes a symbol of two bits). */
const MOST_PACKING = 1032;
const LEAST = -32768;
const MOST = 32767;

/** The header of a volume of grey values; unpacks no more than needed. Throws `InputFailure` (3). */
export async function greyHeader(source: ByteSource, shown: string): Promise<GreyHeader> {
  const head = await source.start(NRRD_HEADER_BYTES);
  if (head.toString('latin1', 0, 7) === 'NRRD000') {
    const { grid, format, isPacked, offset } = nrrdHeader(head, shown, 1);
    return { kind: 'NRRD', ...stackOf(grid, shown), format, isPacked, offset, slope: 1, inter: 0 };
  }
  const isPacked = head[0] === 0x1f && head[1] === 0x8b;
  let start = new Uint8Array(0);
  if (!isPacked) start = Uint8Array.from(head.subarray(0, NIFTI_HEADER_BYTES));
  else
    await feed(source, 0, true, shown, (bytes) => {
      const joined = new Uint8Array(start.length + bytes.length);
      joined.set(start);
      joined.set(bytes, start.length);
      start = joined;
      return start.length < NIFTI_HEADER_BYTES;
    });
  const version = start.length >= 4 ? new DataView(start.buffer, start.byteOffset, 4) : undefined;
  const isNifti = [true, false].some((little) => [348, 540].includes(version?.getInt32(0, little) ?? 0));
  if (!isNifti)
    refuse(
      shown,
      '',
      'it is not a DICOM object or a NIfTI or NRRD volume',
      'Give the folder of the CT series, or one volume of grey values',
    );
  const { grid, format, offset, slope, inter } = niftiHeader(start, shown, 1, true);
  return { kind: 'NIfTI', ...stackOf(grid, shown), format, isPacked, offset, slope, inter };
}

function stackOf(
  { sizes, origin, axes, isOriented, notes }: VoxelGrid,
  shown: string,
): Pick<GreyHeader, 'stack' | 'stackFacts' | 'isReversed'> {
  if (!isOriented || notes.length > 0)
    refuse(
      shown,
      'header',
      'it does not state the patient axes in millimetres',
      'Export it with its place in the patient, or give the DICOM series',
    );
  const [columns, rows, slices] = sizes;
  if (sizes.some((n) => n < 3))
    refuse(shown, 'header', `${sizes.join(' x ')} voxels are not a volume`, 'Give the whole scan');
  const [columnStep, rowStep, step] = axes as [Vec3, Vec3, Vec3];
  const [columnMm, rowMm] = [length(columnStep), length(rowStep)];
  if (Math.abs(dot(columnStep, rowStep)) > 1e-3 * columnMm * rowMm)
    refuse(shown, 'header', 'its rows and columns are not perpendicular', 'Give the DICOM series');
  const normal = normalOf({ along: scale(columnStep, 1 / columnMm), down: scale(rowStep, 1 / rowMm) });
  const rise = dot(step, normal);
  const isReversed = rise < 0;
  const origins = new Float64Array(3 * slices);
  for (let k = 0; k < slices; k++) {
    const n = isReversed ? slices - 1 - k : k;
    for (let d = 0; d < 3; d++) origins[3 * k + d] = origin[d] + n * step[d];
  }
  const heights = Float64Array.from({ length: slices }, (_, k) =>
    dot([origins[3 * k], origins[3 * k + 1], origins[3 * k + 2]], normal),
  );
  const aside = length(cross(step, normal));
  return {
    isReversed,
    stack: {
      columns,
      rows,
      slices,
      columnStep,
      rowStep,
      normal,
      origins,
      heights,
      isGap: new Uint8Array(slices),
    },
    stackFacts: {
      spacingMm: [columnMm, rowMm, Math.abs(rise)],
      gaps: [],
      tiltDeg: aside < 1e-6 * Math.abs(rise) ? 0 : (Math.atan2(aside, Math.abs(rise)) * 180) / Math.PI,
    },
  };
}

/** The grey values as one 16-bit copy, rounded to whole Hounsfield units. Throws `InputFailure` (3). */
export async function readGreyValues(
  source: ByteSource,
  header: GreyHeader,
  shown: string,
): Promise<GreyVolume> {
  const { stack, format, isReversed, slope, inter } = header;
  const { columns, rows, slices } = stack;
  const needed = columns * rows * slices * voxelBytes(format);
  const cutShort = (voxels: number): never =>
    refuse(
      shown,
      '',
      `its header claims ${columns} x ${rows} x ${slices} voxels, but the data end after about ${voxels}`,
      'It is cut short: copy it again or export it again',
    );
  const held = (source.bytes - (header.isPacked ? 0 : header.offset)) * (header.isPacked ? MOST_PACKING : 1);
  if (held < needed) cutShort(Math.max(0, Math.floor(held / voxelBytes(format))));
  const values = new Int16Array(columns * rows * slices);
  const row = new Uint8Array(columns * voxelBytes(format));
  const numbers = new Float64Array(columns);
  let filled = 0;
  let rowNumber = 0;
  const takeRow = (): void => {
    decodeVoxels(row, format, numbers);
    const [j, n] = [rowNumber % rows, Math.floor(rowNumber / rows)];
    const at = ((isReversed ? slices - 1 - n : n) * rows + j) * columns;
    for (let i = 0; i < columns; i++) {
      const value = Math.round(numbers[i] * slope + inter);
      if (Number.isNaN(value))
        refuse(shown, `voxel [${i}, ${j}, ${n}]`, 'its value is not a number', 'Export the scan again');
      values[at + i] = Math.max(LEAST, Math.min(value, MOST));
    }
    rowNumber++;
    filled = 0;
  };
  // compressed NRRD data follow the header; compressed NIfTI includes the header
  const isPackedHeader = header.kind === 'NIfTI' && header.isPacked;
  let skip = isPackedHeader ? header.offset : 0;
  await feed(source, isPackedHeader ? 0 : header.offset, header.isPacked, shown, (bytes) => {
    let at = Math.min(skip, bytes.length);
    skip -= at;
    while (at < bytes.length && rowNumber < rows * slices) {
      const take = Math.min(row.length - filled, bytes.length - at);
      row.set(bytes.subarray(at, at + take), filled);
      filled += take;
      at += take;
      if (filled === row.length) takeRow();
    }
    return rowNumber < rows * slices;
  });
  if (rowNumber < rows * slices) cutShort(rowNumber * columns);
  return { stack, values };
}
