import { dot, subtract, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Surface } from '../surface.js';
import { CutBody } from './cut-body.js';

/** A plane across a vessel at its neck: its place, its direction into the sac and the triangles crossed by its outline. */
export interface NeckCut {
  point: Vec3;
  intoSac: Vec3;
  triangles: Uint32Array;
}

/**
 * The part of the surface between the necks, closed by a flat fan at each: of the pieces separated by the necks' outlines, the largest that
 * is on the sac's side of all its outlines, plus the sac's side of the triangles crossed by them. Undefined if there is none. In a small
 * sac, the wall nearest to the point may be the mouth of a wide vessel, so the necks decide the side, not the triangles near the point.
 */
export function bodyBetweenNecks(surface: Surface, necks: readonly NeckCut[]): TriangleMesh | undefined {
  const cutBy = new Int32Array(surface.triangleCount).fill(-1);
  necks.forEach((neck, i) => {
    for (const t of neck.triangles) cutBy[t] = i;
  });
  const heightOver = (i: number) => (v: number) =>
    dot(subtract(surface.vertex(v), necks[i].point), necks[i].intoSac);
  const isOnSacSide = (t: number, k: number): boolean => {
    const height = heightOver(cutBy[t]);
    return height(surface.triangles[3 * t + k]) >= 0 && height(surface.triangles[3 * t + ((k + 1) % 3)]) >= 0;
  };
  const seen = new Uint8Array(surface.triangleCount);
  let largest: Piece | undefined;
  for (const neck of necks)
    for (const t of neck.triangles)
      for (let k = 0; k < 3; k++) {
        const start = beside(surface, t, k);
        if (start < 0 || cutBy[start] >= 0 || seen[start] || !isOnSacSide(t, k)) continue;
        const piece = pieceFrom(surface, start, cutBy, seen, isOnSacSide);
        const isBetween = [...piece.contacts.values()].every((balance) => balance > 0);
        if (isBetween && piece.triangles.length > (largest?.triangles.length ?? 0)) largest = piece;
      }
  if (!largest) return undefined;
  const builder = new CutBody(surface);
  for (const t of largest.triangles) builder.keep(t);
  for (const i of [...largest.contacts.keys()].sort((a, b) => a - b))
    builder.close({ triangles: necks[i].triangles, heightOf: heightOver(i) });
  return builder.build().mesh;
}

/** Triangles connected without crossing an outline; for each outline they reach, edges on the sac's side minus those on the other. */
interface Piece {
  triangles: number[];
  contacts: Map<number, number>;
}

function pieceFrom(
  surface: Surface,
  start: number,
  cutBy: Int32Array,
  seen: Uint8Array,
  isOnSacSide: (t: number, k: number) => boolean,
): Piece {
  const piece: Piece = { triangles: [start], contacts: new Map() };
  seen[start] = 1;
  for (let at = 0; at < piece.triangles.length; at++) {
    const t = piece.triangles[at];
    for (let k = 0; k < 3; k++) {
      const next = beside(surface, t, k);
      if (next < 0) continue;
      const cut = cutBy[next];
      if (cut >= 0) {
        const side = isOnSacSide(next, surface.twin[3 * t + k] % 3) ? 1 : -1;
        piece.contacts.set(cut, (piece.contacts.get(cut) ?? 0) + side);
      } else if (!seen[next]) {
        seen[next] = 1;
        piece.triangles.push(next);
      }
    }
  }
  return piece;
}

/** The triangle across an edge; -1 if there is none. */
function beside(surface: Surface, t: number, k: number): number {
  const other = surface.twin[3 * t + k];
  return other < 0 ? -1 : (other / 3) | 0;
}
