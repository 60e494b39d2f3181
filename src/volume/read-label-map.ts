import type { Readable } from 'node:stream';
import { createGunzip } from 'node:zlib';
import { EXIT, InputFailure } from '../foundation/failure.js';
import { openRegularFile, systemProblem } from '../foundation/regular-file.js';
import { MOST_BYTES, refuse } from '../mesh/read/mesh-file.js';
import { isDicom } from '../mesh/recognise/dicom-facts.js';
import { dicomSegmentation } from './dicom-seg.js';
import type { LabelMap, VoxelGrid } from './label-map.js';
import { NIFTI_HEADER_BYTES, niftiHeader } from './nifti.js';
import { NRRD_HEADER_BYTES, nrrdHeader } from './nrrd.js';
import { type VoxelFormat, VoxelReader } from './voxel-reader.js';

export interface LabelMapOptions {
  /** The path shown in messages. */
  shown: string;
  /** mm per unit of length, if the file states none. */
  unitMm: number;
  /** Numbers of the wanted labels, from the names in the file. */
  wanted: (names: ReadonlyMap<string, number>) => Iterable<number>;
}

/** The source of a map's bytes: a file on disk, or memory. */
export interface ByteSource {
  bytes: number;
  /** The first bytes, at most `length`. */
  start(length: number): Promise<Buffer>;
  all(): Promise<Buffer>;
  from(offset: number): Readable;
}

/** Reads the wanted labels of a file on disk, see `labelMapOf`. Throws `InputFailure` (3) if the file cannot be used. */
export const readLabelMap = (path: string, options: LabelMapOptions): Promise<LabelMap> =>
  withByteSource(path, options.shown, (source) => labelMapOf(source, options));

/** Opens a regular file while it is read. Throws `InputFailure` (3) if that fails. */
export async function withByteSource<T>(
  path: string,
  shown: string,
  read: (source: ByteSource) => Promise<T>,
): Promise<T> {
  const { handle, bytes } = await openRegularFile(path, { shown, exitCode: EXIT.input });
  const source: ByteSource = {
    bytes,
    async start(length) {
      const start = Buffer.alloc(length);
      const { bytesRead } = await handle.read(start, 0, length, 0);
      return start.subarray(0, bytesRead);
    },
    all: () => handle.readFile(),
    from: (offset) => handle.createReadStream({ start: offset, autoClose: false, highWaterMark: 1 << 20 }),
  };
  try {
    return await read(source);
  } catch (error) {
    if (error instanceof InputFailure || !(error instanceof Error && 'syscall' in error)) throw error;
    const { problem, todo } = systemProblem(error);
    return refuse(shown, '', problem, todo);
  } finally {
    await handle.close();
  }
}

/**
 * The voxel grid of a NIfTI or NRRD map, from its header only; undefined for DICOM, which always states its axes. Throws `InputFailure`
 * (3) if the header cannot be used.
 */
export const readLabelGrid = (path: string, shown: string, unitMm: number): Promise<VoxelGrid | undefined> =>
  withByteSource(path, shown, async (source) => {
    const head = await source.start(NRRD_HEADER_BYTES);
    if (isDicom(head)) return undefined;
    if (head.toString('latin1', 0, 7) === 'NRRD000') return nrrdHeader(head, shown, unitMm).grid;
    if (!isPacked(head)) return niftiHeader(head.subarray(0, NIFTI_HEADER_BYTES), shown, unitMm).grid;
    const start = Buffer.alloc(NIFTI_HEADER_BYTES);
    let filled = 0;
    await feed(source, 0, true, shown, (bytes) => {
      filled += Buffer.from(bytes).copy(start, filled);
      return filled < start.length;
    });
    return niftiHeader(start.subarray(0, filled), shown, unitMm).grid;
  });

const isPacked = (head: Uint8Array): boolean => head[0] === 0x1f && head[1] === 0x8b;

/**
 * The wanted labels of a NIfTI, NRRD or DICOM segmentation file. NIfTI and NRRD are read in pieces, compressed or not, so that memory
 * depends on the size of the labels, not of the volume. Throws `InputFailure` (3).
 */
export async function labelMapOf(source: ByteSource, options: LabelMapOptions): Promise<LabelMap> {
  const { shown } = options;
  const head = await source.start(NRRD_HEADER_BYTES);
  if (isDicom(head)) {
    if (source.bytes > MOST_BYTES)
      refuse(
        shown,
        '',
        `${source.bytes} bytes are more than the ${MOST_BYTES} (1 GiB) that are read`,
        'Crop the segmentation',
      );
    return dicomSegmentation(await source.all(), shown, options.wanted);
  }
  if (head.toString('latin1', 0, 7) === 'NRRD000') return readNrrd(source, head, options);
  return readNifti(source, head, options);
}

async function readNrrd(source: ByteSource, head: Buffer, options: LabelMapOptions): Promise<LabelMap> {
  const header = nrrdHeader(head, options.shown, options.unitMm);
  const reader = new VoxelReader(
    options.shown,
    header.grid.sizes,
    header.format,
    options.wanted(header.names),
  );
  await feed(source, header.offset, header.isPacked, options.shown, (bytes) => {
    reader.push(bytes);
    return !reader.isComplete;
  });
  return done(reader, header.grid, header.names);
}

async function readNifti(source: ByteSource, head: Buffer, options: LabelMapOptions): Promise<LabelMap> {
  let start = new Uint8Array(0);
  let header: { grid: VoxelGrid; format: VoxelFormat; offset: number } | undefined;
  let reader: VoxelReader | undefined;
  let skip = 0;
  await feed(source, 0, isPacked(head), options.shown, (bytes) => {
    let rest = bytes;
    if (!header || !reader) {
      const joined = new Uint8Array(start.length + bytes.length);
      joined.set(start);
      joined.set(bytes, start.length);
      start = joined;
      if (start.length < NIFTI_HEADER_BYTES) return true;
      header = niftiHeader(start, options.shown, options.unitMm);
      reader = new VoxelReader(options.shown, header.grid.sizes, header.format, options.wanted(new Map()));
      skip = header.offset;
      rest = start;
    }
    const behind = rest.subarray(Math.min(skip, rest.length));
    skip -= rest.length - behind.length;
    reader.push(behind);
    return !reader.isComplete;
  });
  if (!header || !reader) {
    header = niftiHeader(start, options.shown, options.unitMm);
    reader = new VoxelReader(options.shown, header.grid.sizes, header.format, options.wanted(new Map()));
    reader.push(start.subarray(header.offset));
  }
  return done(reader, header.grid);
}

function done(
  reader: VoxelReader,
  grid: VoxelGrid,
  names: ReadonlyMap<string, number> = new Map(),
): LabelMap {
  reader.end();
  const { imageBecause } = reader;
  return { grid, labels: reader.runs, names, present: reader.present, imageBecause };
}

/** Passes on the bytes from `offset`, decompressed if necessary, until `take` returns false or they end. */
export async function feed(
  source: ByteSource,
  offset: number,
  isPacked: boolean,
  shown: string,
  take: (bytes: Uint8Array) => boolean,
): Promise<void> {
  const bytes = source.from(offset);
  const pieces = isPacked ? bytes.pipe(createGunzip()) : bytes;
  if (pieces !== bytes) bytes.on('error', (error) => pieces.destroy(error));
  try {
    for await (const piece of pieces) if (!take(piece as Uint8Array)) return;
  } catch (error) {
    if (!(error instanceof Error && 'code' in error && String(error.code).startsWith('Z_'))) throw error;
    refuse(shown, '', 'its packed data are damaged or cut off', 'Copy it again or export it again');
  } finally {
    bytes.destroy();
  }
}
