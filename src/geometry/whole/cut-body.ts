import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Surface } from '../surface.js';

/** One opening of a body that is cut out of a surface. */
export interface CutOpening {
  /** Triangles crossed by the outline of the cut. */
  triangles: Iterable<number>;
  /** Height of a vertex over the plane of the cut; on the kept side not negative, or all negative if `below`. */
  heightOf(vertex: number): number;
  /** The side below the plane is kept. */
  below?: boolean;
  /** Centre of the fan that closes the opening; default: the mean of the crossed edges. */
  middle?: Vec3;
}

/** Builds a separate body from whole triangles of a surface and the kept parts of those at a cut; local coordinates. */
export class CutBody {
  private readonly surface: Surface;
  private readonly newIndex: Int32Array;
  private readonly positions: number[] = [];
  private readonly triangles: number[] = [];
  private readonly caps: number[] = [];

  constructor(surface: Surface) {
    this.surface = surface;
    this.newIndex = new Int32Array(surface.vertexCount).fill(-1);
  }

  /** Adds a whole triangle. */
  keep(t: number): void {
    const corners = cornersOf(this.surface, t);
    this.add([this.old(corners[0]), this.old(corners[1]), this.old(corners[2])], this.surface.isCap[t] === 1);
  }

  /** Adds the kept side of the outline's triangles, and a flat fan that closes the opening. */
  close({ triangles, heightOf, below = false, middle }: CutOpening): void {
    const crossings = new Map<number, number>();
    const rim: [number, number][] = [];
    for (const t of triangles) {
      const corners = cornersOf(this.surface, t);
      const heights = corners.map(heightOf);
      const isKept = heights.map((h) => h >= 0 !== below);
      const polygon: number[] = [];
      let [entry, exit] = [-1, -1];
      for (let k = 0; k < 3; k++) {
        const next = (k + 1) % 3;
        if (isKept[k]) polygon.push(this.old(corners[k]));
        if (isKept[k] === isKept[next]) continue;
        const at = this.crossing(crossings, corners[k], corners[next], heights[k], heights[next]);
        polygon.push(at);
        if (isKept[k]) exit = at;
        else entry = at;
      }
      this.add(polygon, this.surface.isCap[t] === 1);
      rim.push([entry, exit]);
    }
    const centre = this.place(middle ?? this.meanOf(crossings.values(), crossings.size));
    // the kept side runs from exit to entry along the cut, so the closing fan runs from entry to exit
    for (const [entry, exit] of rim) this.add([centre, entry, exit], true);
  }

  build(): { mesh: TriangleMesh; capTriangles: number[] } {
    const mesh = {
      positions: Float64Array.from(this.positions),
      triangles: Uint32Array.from(this.triangles),
    };
    return { mesh, capTriangles: this.caps };
  }

  private add(polygon: readonly number[], isCap: boolean): void {
    for (let i = 1; i + 1 < polygon.length; i++) {
      if (isCap) this.caps.push(this.triangles.length / 3);
      this.triangles.push(polygon[0], polygon[i], polygon[i + 1]);
    }
  }

  private place([x, y, z]: Vec3): number {
    return this.positions.push(x, y, z) / 3 - 1;
  }

  private old(v: number): number {
    if (this.newIndex[v] < 0) this.newIndex[v] = this.place(this.surface.vertex(v));
    return this.newIndex[v];
  }

  private meanOf(places: Iterable<number>, count: number): Vec3 {
    const mean: Vec3 = [0, 0, 0];
    for (const at of places) for (let k = 0; k < 3; k++) mean[k] += this.positions[3 * at + k] / count;
    return mean;
  }

  private crossing(known: Map<number, number>, a: number, b: number, ha: number, hb: number): number {
    const key = Math.min(a, b) * this.surface.vertexCount + Math.max(a, b);
    const at = known.get(key);
    if (at !== undefined) return at;
    const f = ha / (ha - hb);
    const [p, q] = [this.surface.vertex(a), this.surface.vertex(b)];
    const made = this.place([0, 1, 2].map((k) => p[k] + (q[k] - p[k]) * f) as Vec3);
    known.set(key, made);
    return made;
  }
}

/** The three vertices of a triangle. */
export const cornersOf = (surface: Surface, t: number): [number, number, number] => [
  surface.triangles[3 * t],
  surface.triangles[3 * t + 1],
  surface.triangles[3 * t + 2],
];
