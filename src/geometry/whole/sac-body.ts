import { dot, subtract, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Surface } from '../surface.js';
import { CutBody } from './cut-body.js';

/** A plane across a vessel at its neck: its place, its direction into the sac and the triangles its outline runs over. */
export interface NeckCut {
  point: Vec3;
  intoSac: Vec3;
  triangles: Uint32Array;
}

/**
 * The part of the surface between the necks, closed by a flat fan at each: what is reached from `seed`
 * without crossing a neck's outline, and the sac's side of the triangles the outlines run over.
 */
export function bodyBetweenNecks(surface: Surface, seed: number, necks: readonly NeckCut[]): TriangleMesh {
  const cutBy = new Int32Array(surface.triangleCount).fill(-1);
  necks.forEach((neck, i) => {
    for (const t of neck.triangles) cutBy[t] = i;
  });
  const builder = new CutBody(surface);
  const seen = new Uint8Array(surface.triangleCount);
  const stack = [seed];
  seen[seed] = 1;
  const touched = new Set<number>();
  while (stack.length > 0) {
    const t = stack.pop()!;
    if (cutBy[t] >= 0) {
      touched.add(cutBy[t]);
      continue;
    }
    builder.keep(t);
    for (let k = 0; k < 3; k++) {
      const other = surface.twin[3 * t + k];
      if (other < 0) continue;
      const next = (other / 3) | 0;
      if (!seen[next]) {
        seen[next] = 1;
        stack.push(next);
      }
    }
  }
  for (const i of [...touched].sort((a, b) => a - b)) {
    const { triangles, point, intoSac } = necks[i];
    builder.close({ triangles, heightOf: (v) => dot(subtract(surface.vertex(v), point), intoSac) });
  }
  return builder.build().mesh;
}
