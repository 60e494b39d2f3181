import { addTo } from '../../foundation/add-to.js';
import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Surface } from '../surface.js';
import { type CrossPlane, sideOf } from './cross-plane.js';
import { CutBody, cornersOf } from './cut-body.js';

/** A plane across a vessel with the triangles crossed by its outline. */
export interface MeshCut extends CrossPlane {
  triangles: Uint32Array;
}

/** Shifts of a plane, mm, tried in turn until its outline properly crosses every one of its triangles. */
const SHIFTS_MM = [0, 1.3e-6, -1.3e-6, 1.1e-5, -1.1e-5];

/** A plane as a cut of the surface; undefined if its outline runs along edges of the surface instead of across them. */
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

const isAbove = (surface: Surface, cut: MeshCut, v: number): boolean => sideOf(cut, surface.vertex(v)) >= 0;

/** The pieces of a surface separated by cuts. */
export class MeshParts {
  /** For each cut, an adjacent vertex below and one above its plane. */
  private readonly beside: [number, number][];
  private readonly parent: Int32Array;
  private readonly cutsOf = new Map<number, number[]>();
  private readonly surface: Surface;
  private readonly cuts: readonly MeshCut[];

  constructor(surface: Surface, cuts: readonly MeshCut[]) {
    this.surface = surface;
    this.cuts = cuts;
    cuts.forEach((cut, i) => {
      for (const t of cut.triangles) addTo(this.cutsOf, t, i);
    });
    this.parent = Int32Array.from({ length: surface.vertexCount }, (_, v) => v);
    for (let t = 0; t < surface.triangleCount; t++) this.join(t);
    this.beside = cuts.map((cut) => {
      const corners = cornersOf(surface, cut.triangles[0]);
      const below = corners.find((v) => !isAbove(surface, cut, v))!;
      return [below, corners.find((v) => isAbove(surface, cut, v))!];
    });
  }

  /** The piece of a vertex. */
  pieceOf(vertex: number): number {
    let v = vertex;
    while (this.parent[v] !== v) {
      this.parent[v] = this.parent[this.parent[v]];
      v = this.parent[v];
    }
    return v;
  }

  /** The pieces below and above the plane of a cut; the same one if a path leads around it. */
  piecesAt(cut: number): [number, number] {
    const [below, above] = this.beside[cut];
    return [this.pieceOf(below), this.pieceOf(above)];
  }

  /** Two cuts that cross the same triangle, if any. */
  sharing(): [number, number] | undefined {
    for (const cuts of this.cutsOf.values()) if (cuts.length > 1) return [cuts[0], cuts[1]];
    return undefined;
  }

  /**
   * The pieces for which `keeps` holds as one mesh, local coordinates, closed by a flat fan at each cut; no triangle may be crossed by
   * two cuts.
   */
  meshOf(keeps: (piece: number) => boolean): { mesh: TriangleMesh; capTriangles: number[] } {
    const builder = new CutBody(this.surface);
    for (let t = 0; t < this.surface.triangleCount; t++) {
      const at = this.cutsOf.get(t);
      if (!at && keeps(this.pieceOf(this.surface.triangles[3 * t]))) builder.keep(t);
    }
    this.cuts.forEach((cut, i) => {
      this.piecesAt(i).forEach((piece, side) => {
        if (!keeps(piece)) return;
        builder.close({
          triangles: cut.triangles,
          heightOf: (v) => sideOf(cut, this.surface.vertex(v)),
          below: side === 0,
          middle: cut.section.centre,
        });
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
