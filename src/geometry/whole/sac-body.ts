import { dot, subtract, type Vec3 } from '../../foundation/vector.js';
import type { Surface } from '../surface.js';

/** A plane across a vessel at its neck: its place, its direction into the sac and the triangles its outline runs over. */
export interface NeckCut {
  point: Vec3;
  intoSac: Vec3;
  triangles: Uint32Array;
}

/** A closed body of its own. */
export interface BodyMesh {
  positions: Float64Array;
  triangles: Uint32Array;
}

/**
 * The part of the surface between the necks, closed by a flat fan at each: what is reached from `seed`
 * without crossing a neck's outline, and the sac's side of the triangles the outlines run over.
 */
export function bodyBetweenNecks(surface: Surface, seed: number, necks: readonly NeckCut[]): BodyMesh {
  const cutBy = new Int32Array(surface.triangleCount).fill(-1);
  necks.forEach((neck, i) => {
    for (const t of neck.triangles) cutBy[t] = i;
  });
  const builder = new BodyBuilder(surface);
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
  for (const i of [...touched].sort((a, b) => a - b)) builder.close(necks[i]);
  return builder.build();
}

class BodyBuilder {
  private readonly surface: Surface;
  private readonly newIndex: Int32Array;
  private readonly positions: number[] = [];
  private readonly triangles: number[] = [];

  constructor(surface: Surface) {
    this.surface = surface;
    this.newIndex = new Int32Array(surface.vertexCount).fill(-1);
  }

  keep(t: number): void {
    for (let k = 0; k < 3; k++) this.triangles.push(this.old(this.surface.triangles[3 * t + k]));
  }

  /** Cuts the outline's triangles at the plane, keeps the sac's side and fills the opening with a fan. */
  close(neck: NeckCut): void {
    const crossings = new Map<number, number>();
    const rim: [number, number][] = [];
    for (const t of neck.triangles) {
      const corner = [0, 1, 2].map((k) => this.surface.triangles[3 * t + k]);
      const height = corner.map((v) => dot(subtract(this.surface.vertex(v), neck.point), neck.intoSac));
      const polygon: number[] = [];
      let entry = -1;
      let exit = -1;
      for (let k = 0; k < 3; k++) {
        const next = (k + 1) % 3;
        if (height[k] >= 0) polygon.push(this.old(corner[k]));
        if (height[k] >= 0 === height[next] >= 0) continue;
        const at = this.crossing(crossings, corner[k], corner[next], height[k], height[next]);
        polygon.push(at);
        if (height[k] >= 0) exit = at;
        else entry = at;
      }
      for (let i = 1; i + 1 < polygon.length; i++)
        this.triangles.push(polygon[0], polygon[i], polygon[i + 1]);
      // The kept side runs exit -> entry along the cut, so the fan that closes it runs entry -> exit.
      rim.push([entry, exit]);
    }
    const centre: Vec3 = [0, 0, 0];
    for (const at of crossings.values())
      for (let k = 0; k < 3; k++) centre[k] += this.positions[3 * at + k] / crossings.size;
    const middle = this.positions.length / 3;
    this.positions.push(...centre);
    for (const [entry, exit] of rim) this.triangles.push(middle, entry, exit);
  }

  build(): BodyMesh {
    return { positions: Float64Array.from(this.positions), triangles: Uint32Array.from(this.triangles) };
  }

  private old(v: number): number {
    if (this.newIndex[v] < 0) {
      this.newIndex[v] = this.positions.length / 3;
      this.positions.push(...this.surface.vertex(v));
    }
    return this.newIndex[v];
  }

  private crossing(known: Map<number, number>, a: number, b: number, ha: number, hb: number): number {
    const key = Math.min(a, b) * this.surface.vertexCount + Math.max(a, b);
    let index = known.get(key);
    if (index === undefined) {
      const f = ha / (ha - hb);
      const [p, q] = [this.surface.vertex(a), this.surface.vertex(b)];
      index = this.positions.length / 3;
      for (let k = 0; k < 3; k++) this.positions.push(p[k] + (q[k] - p[k]) * f);
      known.set(key, index);
    }
    return index;
  }
}
