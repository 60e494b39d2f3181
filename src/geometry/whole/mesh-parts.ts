import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Surface } from '../surface.js';
import { type CrossPlane, sideOf } from './cross-plane.js';

/** A plane across a vessel with the triangles that its outline runs over. */
export interface MeshCut extends CrossPlane {
  triangles: Uint32Array;
}

/** Shifts of a plane, mm, tried in turn until every triangle of its outline is truly crossed. */
const SHIFTS_MM = [0, 1.3e-6, -1.3e-6, 1.1e-5, -1.1e-5];

/** A plane as a cut of the surface; undefined where its outline runs along edges of the surface and not across them. */
export function asCut(surface: Surface, plane: CrossPlane): MeshCut | undefined {
  const { triangles } = plane.section;
  for (const shift of SHIFTS_MM) {
    const point = plane.point.map((x, k) => x + shift * plane.normal[k]) as Vec3;
    const moved = { ...plane, point, triangles };
    const isCrossed = (t: number): boolean => {
      const above = cornersOf(surface, t).map((v) => isAbove(surface, moved, v));
      return above.includes(true) && above.includes(false);
    };
    if (triangles.every(isCrossed)) return moved;
  }
  return undefined;
}

const cornersOf = (surface: Surface, t: number): [number, number, number] => [
  surface.triangles[3 * t],
  surface.triangles[3 * t + 1],
  surface.triangles[3 * t + 2],
];

const isAbove = (surface: Surface, cut: MeshCut, v: number): boolean => sideOf(cut, surface.vertex(v)) >= 0;

/** The pieces that a surface falls into along cuts. */
export class MeshParts {
  /** For each cut, a vertex beside it below and above its plane. */
  private readonly beside: [number, number][];
  private readonly parent: Int32Array;
  private readonly cutsOf = new Map<number, number[]>();
  private readonly surface: Surface;
  private readonly cuts: readonly MeshCut[];

  constructor(surface: Surface, cuts: readonly MeshCut[]) {
    this.surface = surface;
    this.cuts = cuts;
    cuts.forEach((cut, i) => {
      for (const t of cut.triangles) this.cutsOf.set(t, [...(this.cutsOf.get(t) ?? []), i]);
    });
    this.parent = Int32Array.from({ length: surface.vertexCount }, (_, v) => v);
    for (let t = 0; t < surface.triangleCount; t++) this.join(t);
    this.beside = cuts.map((cut) => {
      const corners = cornersOf(surface, cut.triangles[0]);
      const below = corners.find((v) => !isAbove(surface, cut, v))!;
      return [below, corners.find((v) => isAbove(surface, cut, v))!];
    });
  }

  /** The piece that a vertex lies in. */
  pieceOf(vertex: number): number {
    let v = vertex;
    while (this.parent[v] !== v) {
      this.parent[v] = this.parent[this.parent[v]];
      v = this.parent[v];
    }
    return v;
  }

  /** The pieces below and above the plane of a cut; the same one where a way leads round it. */
  piecesAt(cut: number): [number, number] {
    const [below, above] = this.beside[cut];
    return [this.pieceOf(below), this.pieceOf(above)];
  }

  /** Two cuts that run over one triangle, if any do. */
  sharing(): [number, number] | undefined {
    for (const cuts of this.cutsOf.values()) if (cuts.length > 1) return [cuts[0], cuts[1]];
    return undefined;
  }

  /** The pieces for which `keeps` holds as one mesh, local coordinates, closed by a flat fan at each cut; no triangle may lie under two cuts. */
  meshOf(keeps: (piece: number) => boolean): { mesh: TriangleMesh; capTriangles: number[] } {
    const builder = new PieceBuilder(this.surface);
    for (let t = 0; t < this.surface.triangleCount; t++) {
      const at = this.cutsOf.get(t);
      if (!at && keeps(this.pieceOf(this.surface.triangles[3 * t]))) builder.keep(t);
    }
    this.cuts.forEach((cut, i) => {
      this.piecesAt(i).forEach((piece, side) => {
        if (keeps(piece)) builder.close(cut, side === 1);
      });
    });
    return builder.build();
  }

  private join(t: number): void {
    const corners = cornersOf(this.surface, t);
    const cuts = (this.cutsOf.get(t) ?? []).map((i) => this.cuts[i]);
    for (let k = 0; k < 3; k++) {
      const [a, b] = [corners[k], corners[(k + 1) % 3]];
      if (cuts.some((cut) => isAbove(this.surface, cut, a) !== isAbove(this.surface, cut, b))) continue;
      const [p, q] = [this.pieceOf(a), this.pieceOf(b)];
      if (p !== q) this.parent[Math.max(p, q)] = Math.min(p, q);
    }
  }
}

class PieceBuilder {
  private readonly surface: Surface;
  private readonly newIndex: Int32Array;
  private readonly positions: number[] = [];
  private readonly triangles: number[] = [];
  private readonly caps: number[] = [];

  constructor(surface: Surface) {
    this.surface = surface;
    this.newIndex = new Int32Array(surface.vertexCount).fill(-1);
  }

  keep(t: number): void {
    this.add(
      cornersOf(this.surface, t).map((v) => this.old(v)),
      this.surface.isCap[t] === 1,
    );
  }

  /** The parts of the outline's triangles on one side of the plane, and a fan that closes the opening there. */
  close(cut: MeshCut, above: boolean): void {
    const crossings = new Map<number, number>();
    const rim: [number, number][] = [];
    for (const t of cut.triangles) {
      const corners = cornersOf(this.surface, t);
      const heights = corners.map((v) => sideOf(cut, this.surface.vertex(v)));
      const isKept = heights.map((h) => h >= 0 === above);
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
    const middle = this.place(cut.section.centre);
    // the kept side runs from exit to entry along the cut, so the fan that closes it runs from entry to exit
    for (const [entry, exit] of rim) this.add([middle, entry, exit], true);
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
