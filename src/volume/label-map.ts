import { MOST_TRIANGLES, refuse } from '../mesh/read/mesh-file.js';

/** The positions of a map's voxels: the centre of voxel (i, j, k) is `origin + i·axes[0] + j·axes[1] + k·axes[2]`. */
export interface VoxelGrid {
  /** Voxels along each axis, the first fastest. */
  sizes: [number, number, number];
  /** mm; LPS if `isOriented`. */
  origin: [number, number, number];
  /** Step from one voxel to the next along each axis, mm. */
  axes: [number, number, number][];
  /** False if the file does not state its patient axes. */
  isOriented: boolean;
  /** True if the file omits slices without a label, so that the scan may continue beyond its first and last slice. */
  mayGoOn?: boolean;
  /** Notes for the user, as sentences. */
  notes: string[];
}

/** A label map: each label's voxels as runs along the first axis. */
export interface LabelMap {
  grid: VoxelGrid;
  /** By label number; only those requested. */
  labels: ReadonlyMap<number, VoxelRuns>;
  /** Names of the labels, if the file has them (DICOM). */
  names: ReadonlyMap<string, number>;
  /** All labels of the file with their voxels, in order, at most 100. */
  present: { label: number; voxels: number }[];
  /** Why the voxels are grey values of an image and not labels; absent if they may be labels. */
  imageBecause?: string;
}

/** Greatest number of voxels in a map: 1024 x 1024 x 2000. */
export const MOST_VOXELS = 1024 * 1024 * 2000;
/** Greatest number of voxels in a slice; a few slices are held at once. */
const MOST_SLICE_VOXELS = 4096 * 4096;
const LONGEST_AXIS = 32767;
/** A closed surface has at least four triangles per run, so a label with more runs gives a surface that is too large. */
const MOST_RUNS = MOST_TRIANGLES / 4;

/** Rejects sizes that are not a volume or exceed the limit, before memory is allocated. */
export function checkSizes(sizes: readonly number[], file: string): [number, number, number] {
  const used = sizes.slice(0, 3);
  while (used.length < 3) used.push(1);
  if (sizes.slice(3).some((n) => n !== 1))
    refuse(
      file,
      'header',
      `it has ${sizes.length} axes of sizes ${sizes.join(' x ')}`,
      'Export one volume, three axes',
    );
  if (!used.every((n) => Number.isInteger(n) && n >= 1 && n <= LONGEST_AXIS))
    refuse(
      file,
      'header',
      `sizes of ${used.join(' x ')} voxels are not possible`,
      'Export the label map again',
    );
  const voxels = used[0] * used[1] * used[2];
  if (voxels > MOST_VOXELS)
    refuse(
      file,
      'header',
      `${used.join(' x ')} voxels are more than the ${MOST_VOXELS} (1024 x 1024 x 2000) that are read`,
      'Crop the label map about the lesion',
    );
  if (used[0] * used[1] > MOST_SLICE_VOXELS)
    refuse(
      file,
      'header',
      `slices of ${used[0]} x ${used[1]} voxels are more than the ${MOST_SLICE_VOXELS} (4096 x 4096) that are read`,
      'Crop the label map about the lesion',
    );
  return used as [number, number, number];
}

/** Rejects axes that do not span a volume. */
export function checkAxes(grid: VoxelGrid, file: string): VoxelGrid {
  const [a, b, c] = grid.axes;
  const numbers = [...grid.origin, ...a, ...b, ...c];
  const span = Math.abs(determinant(grid));
  const steps = [a, b, c].map((axis) => Math.hypot(...axis));
  if (
    !numbers.every((n) => Number.isFinite(n) && Math.abs(n) < 1e7) ||
    !(span > 1e-6 * steps[0] * steps[1] * steps[2])
  )
    refuse(file, 'header', 'its axes do not span a volume', 'Export the label map again');
  return grid;
}

/** Signed volume of one voxel, mm³; negative if the axes are left-handed. */
export function determinant({ axes: [a, b, c] }: VoxelGrid): number {
  return (
    a[0] * (b[1] * c[2] - b[2] * c[1]) -
    a[1] * (b[0] * c[2] - b[2] * c[0]) +
    a[2] * (b[0] * c[1] - b[1] * c[0])
  );
}

/** Voxels of one label: runs [first, end) along the first axis, in the order of the rows. */
export class VoxelRuns {
  private rows = new Uint32Array(1024);
  private firsts = new Uint16Array(1024);
  private ends = new Uint16Array(1024);
  private length = 0;
  voxels = 0;
  /** Bounds of the voxels: lowest and highest index along each axis. */
  readonly low: [number, number, number] = [Infinity, Infinity, Infinity];
  readonly high: [number, number, number] = [-1, -1, -1];

  private readonly rowsInSlice: number;
  private readonly from: { file: string; label: number };

  constructor(rowsInSlice: number, from: { file: string; label: number }) {
    this.rowsInSlice = rowsInSlice;
    this.from = from;
  }

  /** Adds a run; rows must come in order, a row's runs from left to right. Throws InputFailure (3) above the limit. */
  add(row: number, first: number, end: number): void {
    if (this.length === MOST_RUNS) this.refuseTooLarge();
    if (this.length === this.rows.length) this.grow();
    this.rows[this.length] = row;
    this.firsts[this.length] = first;
    this.ends[this.length] = end;
    this.length++;
    this.voxels += end - first;
    const j = row % this.rowsInSlice;
    const k = Math.floor(row / this.rowsInSlice);
    this.low[0] = Math.min(this.low[0], first);
    this.high[0] = Math.max(this.high[0], end - 1);
    this.low[1] = Math.min(this.low[1], j);
    this.high[1] = Math.max(this.high[1], j);
    this.low[2] = Math.min(this.low[2], k);
    this.high[2] = Math.max(this.high[2], k);
  }

  /** Throws InputFailure (3): the surface of these voxels is larger than what can be measured. */
  refuseTooLarge(): never {
    return refuse(
      this.from.file,
      `label ${this.from.label}`,
      `its surface has more than ${MOST_TRIANGLES} triangles: its voxels are scattered like noise, or it contains far more than the lesion`,
      'Clean or crop the label map where it was segmented',
    );
  }

  /** Calls `visit` with the runs of slice k: row within the slice, first voxel, voxel after the last. */
  inSlice(k: number, visit: (j: number, first: number, end: number) => void): void {
    const from = k * this.rowsInSlice;
    for (let i = this.firstAt(from); i < this.length && this.rows[i] < from + this.rowsInSlice; i++)
      visit(this.rows[i] - from, this.firsts[i], this.ends[i]);
  }

  private firstAt(row: number): number {
    let low = 0;
    let high = this.length;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (this.rows[middle] < row) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  private grow(): void {
    const wider = <T extends Uint32Array | Uint16Array>(old: T): T => {
      const next = new (old.constructor as new (n: number) => T)(2 * old.length);
      next.set(old);
      return next;
    };
    this.rows = wider(this.rows);
    this.firsts = wider(this.firsts);
    this.ends = wider(this.ends);
  }
}
