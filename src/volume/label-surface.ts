import type { TriangleMesh } from '../mesh/mesh.js';
import { MOST_TRIANGLES } from '../mesh/read/mesh-file.js';
import { CELL_EDGES, CELL_POLYGONS } from './cell-polygons.js';
import { determinant, type VoxelGrid, type VoxelRuns } from './label-map.js';
import { smoothed } from './smooth.js';

/** Rounds of smoothing; `tests/volume/label-surface.test.ts` limits their effect on calibre and volume. */
const ROUNDS = 12;

/**
 * Closed surface of a label, mm, outward. `joined` are the voxels of the structure that a tube opens into: its layer adjacent to the tube
 * is included, so that the smoothed surface extends through the common wall instead of stopping short of it. Works slice by slice, with
 * two slices in memory. Throws InputFailure (3) if it would have more triangles than can be measured.
 */
export function labelSurface(
  grid: VoxelGrid,
  own: VoxelRuns,
  joined: readonly VoxelRuns[] = [],
): TriangleMesh {
  return smoothed(stepped(grid, own, joined), ROUNDS);
}

/** Window of the volume that contains the label plus a margin of one voxel. */
interface Window {
  low: [number, number, number];
  width: number;
  height: number;
  depth: number;
}

function stepped(grid: VoxelGrid, own: VoxelRuns, joined: readonly VoxelRuns[]): TriangleMesh {
  // room for the included layer and one voxel outside
  const low = own.low.map((x) => x - 2) as [number, number, number];
  const window: Window = {
    low,
    width: own.high[0] + 3 - low[0],
    height: own.high[1] + 3 - low[1],
    depth: own.high[2] + 3 - low[2],
  };
  const slices = new Slices(grid, window, own, joined);
  const net = new Net(grid, window);
  let below = slices.at(0);
  for (let k = 0; k + 1 < window.depth; k++) {
    const above = slices.at(k + 1);
    net.addSlab(k, below, above);
    if (net.triangleCount > MOST_TRIANGLES) own.refuseTooLarge();
    below = above;
  }
  return net.mesh();
}

/** The label's voxels in a slice of the window, one byte each, with the layer of the structure it joins. */
class Slices {
  private readonly kept = new Map<number, Uint8Array>();

  private readonly grid: VoxelGrid;
  private readonly window: Window;
  private readonly own: VoxelRuns;
  private readonly joined: readonly VoxelRuns[];

  constructor(grid: VoxelGrid, window: Window, own: VoxelRuns, joined: readonly VoxelRuns[]) {
    this.grid = grid;
    this.window = window;
    this.own = own;
    this.joined = joined;
  }

  at(k: number): Uint8Array {
    const plain = this.plain(k);
    if (this.joined.length === 0) return plain;
    const { width } = this.window;
    const [before, after] = [this.plain(k - 1), this.plain(k + 1)];
    const both = plain.slice();
    for (const runs of this.joined)
      this.visit(runs, k, (at) => {
        if (
          plain[at - 1] ||
          plain[at + 1] ||
          plain[at - width] ||
          plain[at + width] ||
          before[at] ||
          after[at]
        )
          both[at] = 1;
      });
    this.kept.delete(k - 2);
    return both;
  }

  private plain(k: number): Uint8Array {
    let slice = this.kept.get(k);
    if (!slice) {
      slice = new Uint8Array(this.window.width * this.window.height);
      const filled = slice;
      this.visit(this.own, k, (at) => {
        filled[at] = 1;
      });
      this.kept.set(k, slice);
      this.kept.delete(k - 3);
    }
    return slice;
  }

  /** Calls `visit` with the place of each voxel inside the window's rim. */
  private visit(runs: VoxelRuns, k: number, visit: (at: number) => void): void {
    const { low, width, height } = this.window;
    const slice = k + low[2];
    if (slice < 0 || slice >= this.grid.sizes[2]) return;
    runs.inSlice(slice, (j, first, end) => {
      const y = j - low[1];
      if (y < 1 || y >= height - 1) return;
      const last = Math.min(end - low[0], width - 1);
      for (let x = Math.max(1, first - low[0]); x < last; x++) visit(y * width + x);
    });
  }
}

/** Collects vertices and triangles from the slabs between two slices. */
class Net {
  private readonly positions: number[] = [];
  private readonly triangles: number[] = [];
  /** Number of the vertex on each edge: along x and y in the lower and upper slice, and along z between them. */
  private lower: [Int32Array, Int32Array];
  private upper: [Int32Array, Int32Array];
  private readonly upright: Int32Array;
  private readonly isLeftHanded: boolean;

  private readonly grid: VoxelGrid;
  private readonly window: Window;

  constructor(grid: VoxelGrid, window: Window) {
    this.grid = grid;
    this.window = window;
    const cells = window.width * window.height;
    const blank = (): Int32Array => new Int32Array(cells).fill(-1);
    this.lower = [blank(), blank()];
    this.upper = [blank(), blank()];
    this.upright = blank();
    this.isLeftHanded = determinant(grid) < 0;
  }

  get triangleCount(): number {
    return this.triangles.length / 3;
  }

  addSlab(k: number, below: Uint8Array, above: Uint8Array): void {
    const { width, height } = this.window;
    [this.lower, this.upper] = [this.upper, this.lower];
    for (const list of [...this.upper, this.upright]) list.fill(-1);
    for (let y = 0; y + 1 < height; y++) {
      for (let x = 0; x + 1 < width; x++) {
        const at = y * width + x;
        const cell =
          below[at] |
          (below[at + 1] << 1) |
          (below[at + width] << 2) |
          (below[at + width + 1] << 3) |
          (above[at] << 4) |
          (above[at + 1] << 5) |
          (above[at + width] << 6) |
          (above[at + width + 1] << 7);
        if (cell !== 0 && cell !== 255) this.addCell(cell, x, y, k);
      }
    }
  }

  private addCell(cell: number, x: number, y: number, k: number): void {
    for (const edges of CELL_POLYGONS[cell]) {
      const corners = edges.map((edge) => this.corner(edge, x, y, k));
      for (let i = 1; i + 1 < corners.length; i++) this.face(corners[0], corners[i], corners[i + 1]);
    }
  }

  /** The vertex half way along a cell's edge. */
  private corner(edge: number, x: number, y: number, k: number): number {
    const [c, other] = CELL_EDGES[edge];
    const [dx, dy, dz] = [c & 1, (c >> 1) & 1, c >> 2];
    const along = Math.log2(other - c);
    const list = along === 2 ? this.upright : (dz === 0 ? this.lower : this.upper)[along];
    const at = (y + dy) * this.window.width + x + dx;
    if (list[at] < 0) {
      const half = [0, 1, 2].map((axis) => (axis === along ? 0.5 : 0));
      const index = [x + dx, y + dy, k + dz].map((n, axis) => n + half[axis] + this.window.low[axis]);
      list[at] = this.point(index);
    }
    return list[at];
  }

  private point([i, j, k]: readonly number[]): number {
    const { origin, axes } = this.grid;
    for (let c = 0; c < 3; c++)
      this.positions.push(origin[c] + i * axes[0][c] + j * axes[1][c] + k * axes[2][c]);
    return this.positions.length / 3 - 1;
  }

  private face(a: number, b: number, c: number): void {
    if (this.isLeftHanded) this.triangles.push(a, c, b);
    else this.triangles.push(a, b, c);
  }

  mesh(): TriangleMesh {
    return { positions: Float64Array.from(this.positions), triangles: Uint32Array.from(this.triangles) };
  }
}
