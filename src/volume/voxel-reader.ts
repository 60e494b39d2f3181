import { refuse } from '../mesh/read/mesh-file.js';
import { VoxelRuns } from './label-map.js';

/** Storage format of a voxel. */
export interface VoxelFormat {
  type: 'uint8' | 'int8' | 'uint16' | 'int16' | 'uint32' | 'int32' | 'float32' | 'float64';
  isLittle: boolean;
}

const BYTES: Record<VoxelFormat['type'], number> = {
  uint8: 1,
  int8: 1,
  uint16: 2,
  int16: 2,
  uint32: 4,
  int32: 4,
  float32: 4,
  float64: 8,
};

/** Whether voxels of this type can hold labels. */
export const isVoxelType = (type: string): type is VoxelFormat['type'] => Object.hasOwn(BYTES, type);

/** Bytes of one voxel. */
export const voxelBytes = ({ type }: VoxelFormat): number => BYTES[type];

/** Stored voxels as numbers; `bytes` holds exactly those of `values`. */
export function decodeVoxels(bytes: Uint8Array, { type, isLittle }: VoxelFormat, values: Float64Array): void {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const step = BYTES[type];
  for (let i = 0; i < values.length; i++) {
    const at = i * step;
    switch (type) {
      case 'uint8':
        values[i] = bytes[i];
        break;
      case 'int8':
        values[i] = view.getInt8(at);
        break;
      case 'uint16':
        values[i] = view.getUint16(at, isLittle);
        break;
      case 'int16':
        values[i] = view.getInt16(at, isLittle);
        break;
      case 'uint32':
        values[i] = view.getUint32(at, isLittle);
        break;
      case 'int32':
        values[i] = view.getInt32(at, isLittle);
        break;
      case 'float32':
        values[i] = view.getFloat32(at, isLittle);
        break;
      default:
        values[i] = view.getFloat64(at, isLittle);
    }
  }
}

const MOST_LABEL = 65535;
/**
 * Grey values change from voxel to voxel, labels form blocks: at least this many values, in rows shorter than this many voxels on average
 * (ignoring the commonest value), are an image. So are more values than a body has structures, in somewhat longer rows.
 */
const IMAGE = { values: 20, row: 4, manyValues: 150, longerRow: 12 } as const;
/** Greatest number of labels listed in a message. */
const MOST_LISTED = 100;

/**
 * Takes the voxels of a map piece by piece and keeps only the runs of the requested labels, neither file nor volume. Values must be
 * integers from 0 to 65535; otherwise throws `InputFailure` (3) with the voxel.
 */
export class VoxelReader {
  readonly runs = new Map<number, VoxelRuns>();
  private readonly file: string;
  private readonly sizes: readonly [number, number, number];
  private readonly format: VoxelFormat;
  private readonly counts = new Float64Array(MOST_LABEL + 1);
  private readonly runCounts = new Float64Array(MOST_LABEL + 1);
  private readonly row: Uint8Array;
  private readonly values: Float64Array | Uint8Array;
  private filled = 0;
  private rowNumber = 0;
  private readonly rows: number;
  private readonly isLabel: Uint8Array;

  constructor(
    file: string,
    sizes: readonly [number, number, number],
    format: VoxelFormat,
    wanted: Iterable<number>,
  ) {
    this.file = file;
    this.sizes = sizes;
    this.format = format;
    this.row = new Uint8Array(sizes[0] * BYTES[format.type]);
    this.values = format.type === 'uint8' ? this.row : new Float64Array(sizes[0]);
    this.rows = sizes[1] * sizes[2];
    this.isLabel = new Uint8Array(MOST_LABEL + 1);
    for (const label of wanted) {
      this.runs.set(label, new VoxelRuns(sizes[1], { file, label }));
      this.isLabel[label] = 1;
    }
  }

  get isComplete(): boolean {
    return this.rowNumber === this.rows;
  }

  /** Labels found so far with their voxels, in order, at most 100. */
  get present(): { label: number; voxels: number }[] {
    const present: { label: number; voxels: number }[] = [];
    for (let label = 1; label <= MOST_LABEL && present.length < MOST_LISTED; label++)
      if (this.counts[label] > 0) present.push({ label, voxels: this.counts[label] });
    return present;
  }

  /** Why the voxels read so far are grey values and not labels; undefined if they may be labels. */
  get imageBecause(): string | undefined {
    let [values, voxels, runs, commonest] = [0, 0, 0, 0];
    for (let label = 1; label <= MOST_LABEL; label++) {
      if (this.counts[label] === 0) continue;
      values++;
      voxels += this.counts[label];
      runs += this.runCounts[label];
      if (this.counts[label] > this.counts[commonest]) commonest = label;
    }
    const length = (voxels - this.counts[commonest]) / Math.max(1, runs - this.runCounts[commonest]);
    const isImage =
      (values > IMAGE.values && length < IMAGE.row) ||
      (values > IMAGE.manyValues && length < IMAGE.longerRow);
    return isImage
      ? `its voxels hold ${values} different values in rows of ${length.toFixed(1)} voxels on average: grey values of an image, not labels`
      : undefined;
  }

  /** Takes more bytes; any after the last voxel are ignored. */
  push(bytes: Uint8Array): void {
    let at = 0;
    while (at < bytes.length && !this.isComplete) {
      const take = Math.min(this.row.length - this.filled, bytes.length - at);
      this.row.set(bytes.subarray(at, at + take), this.filled);
      this.filled += take;
      at += take;
      if (this.filled < this.row.length) return;
      this.decode();
      this.takeRow();
      this.filled = 0;
      this.rowNumber++;
    }
  }

  /** Must be called after the last byte. */
  end(): void {
    if (this.isComplete) return;
    const voxels = this.rowNumber * this.sizes[0];
    refuse(
      this.file,
      '',
      `its header claims ${this.sizes.join(' x ')} voxels, but the data end after about ${voxels}`,
      'It is cut short: copy it again or export it again',
    );
  }

  private decode(): void {
    if (this.format.type !== 'uint8') decodeVoxels(this.row, this.format, this.values as Float64Array);
  }

  private takeRow(): void {
    const { values, isLabel } = this;
    const count = values.length;
    let i = 0;
    while (i < count) {
      const label = values[i];
      if (label === 0) {
        i++;
        continue;
      }
      const first = i++;
      while (i < count && values[i] === label) i++;
      if (!(Number.isInteger(label) && label > 0 && label <= MOST_LABEL)) this.refuseValue(label, first);
      this.counts[label] += i - first;
      this.runCounts[label]++;
      if (!isLabel[label]) continue;
      this.runs.get(label)!.add(this.rowNumber, first, i);
    }
  }

  private refuseValue(value: number, i: number): never {
    const place = [i, this.rowNumber % this.sizes[1], Math.floor(this.rowNumber / this.sizes[1])];
    return refuse(
      this.file,
      `voxel [${place.join(', ')}]`,
      `its value ${Number.isFinite(value) ? `${value} is` : 'is not a number, so it is'} not a label (0 to ${MOST_LABEL}, whole)`,
      'Give the label map, not the image',
    );
  }
}
