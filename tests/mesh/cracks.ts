import type { TriangleMesh } from '../../src/mesh/mesh.js';

/** A slit in a tube of `tube(n, …)`: from grid vertex (ring, column) over this many edges, along it or around it. */
export interface Slit {
  ring: number;
  column: number;
  edges: number;
  along: boolean;
  widthMm: number;
}

/**
 * Opens a gridded tube (`n` columns, as in shapes.ts) along slits: the inner vertices of each are doubled and moved half its
 * width to either side, along the wall. Slits must not share a vertex. The two tips stay joined.
 */
export function cracked(mesh: TriangleMesh, n: number, slits: readonly Slit[]): TriangleMesh {
  const positions = Array.from(mesh.positions);
  const triangles = mesh.triangles.slice();
  const at = (ring: number, column: number): number => ring * n + (((column % n) + n) % n);
  for (const { ring, column, edges, along, widthMm } of slits)
    for (let e = 1; e < edges; e++) {
      const v = along ? at(ring + e, column) : at(ring, column + e);
      const copy = positions.length / 3;
      const p = positions.slice(3 * v, 3 * v + 3);
      const radius = Math.hypot(p[0], p[1]);
      const side = along ? [-p[1] / radius, p[0] / radius, 0] : [0, 0, 1];
      for (let k = 0; k < 3; k++) {
        positions.push(p[k] + (side[k] * widthMm) / 2);
        positions[3 * v + k] = p[k] - (side[k] * widthMm) / 2;
      }
      for (let c = 0; c < triangles.length; c++) {
        if (triangles[c] !== v) continue;
        const t = c - (c % 3);
        const middle = [0, 1, 2].map(
          (k) => [0, 1, 2].reduce((sum, i) => sum + mesh.positions[3 * mesh.triangles[t + i] + k], 0) / 3,
        );
        const beyond =
          (middle[0] - p[0]) * side[0] + (middle[1] - p[1]) * side[1] + (middle[2] - p[2]) * side[2];
        if (beyond > 0) triangles[c] = copy;
      }
    }
  return { positions: Float64Array.from(positions), triangles };
}

/** Cuts a gridded tube all the way round between two rings into two patches `widthMm` apart along its axis. */
export function cutThrough(mesh: TriangleMesh, n: number, ring: number, widthMm: number): TriangleMesh {
  const positions = Array.from(mesh.positions);
  const copies = positions.length / 3;
  for (let i = 0; i < n; i++) {
    const p = 3 * (ring * n + i);
    positions.push(positions[p], positions[p + 1], positions[p + 2] + widthMm / 2);
    positions[p + 2] -= widthMm / 2;
  }
  const z = mesh.positions[3 * ring * n + 2];
  const triangles = mesh.triangles.slice();
  for (let t = 0; t < triangles.length; t += 3) {
    const middle = [0, 1, 2].reduce((sum, i) => sum + mesh.positions[3 * mesh.triangles[t + i] + 2], 0) / 3;
    if (middle < z) continue;
    for (let k = t; k < t + 3; k++) {
      const v = triangles[k];
      if (v >= ring * n && v < (ring + 1) * n) triangles[k] = copies + v - ring * n;
    }
  }
  return { positions: Float64Array.from(positions), triangles };
}

/**
 * Tears a closed mesh open at `count` of its vertices, spread evenly through its list: each is doubled, and its two copies
 * are moved half of `widthMm` apart along the wall, so that a slit of two edges opens. No two slits share a triangle.
 */
export function tornAt(mesh: TriangleMesh, count: number, widthMm: number): TriangleMesh {
  const positions = Array.from(mesh.positions);
  const triangles = mesh.triangles.slice();
  const fans = new Map<number, number[]>();
  for (let c = 0; c < triangles.length; c++) {
    const fan = fans.get(triangles[c]) ?? [];
    fan.push(c);
    fans.set(triangles[c], fan);
  }
  const taken = new Set<number>();
  const vertices = mesh.positions.length / 3;
  const after = (c: number): number => (c % 3 === 2 ? c - 2 : c + 1);
  let made = 0;
  for (let i = 0; i < vertices && made < count; i++) {
    // a step coprime to the count visits every vertex
    const v = (i * 7919) % vertices;
    const fan = fans.get(v)!;
    if (fan.length < 5 || fan.length > 8 || fan.some((c) => taken.has((c / 3) | 0))) continue;
    const at = (u: number): number[] => positions.slice(3 * u, 3 * u + 3);
    const from = new Map(fan.map((c) => [triangles[after(c)], c]));
    const round: number[] = [];
    for (let u = triangles[after(fan[0])]; round.length < fan.length; ) {
      const c = from.get(u)!;
      round.push(c);
      u = triangles[after(after(c))];
    }
    const half = Math.floor(fan.length / 2);
    const p = at(v);
    const [a, b] = [triangles[after(round[0])], triangles[after(round[half])]].map(at);
    const along = [0, 1, 2].map((k) => b[k] - a[k]);
    const aside = at(triangles[after(round[Math.floor(half / 2)])]).map((x, k) => x - p[k]);
    const dot = (x: number[], y: number[]): number => x[0] * y[0] + x[1] * y[1] + x[2] * y[2];
    const share = dot(aside, along) / dot(along, along);
    const side = aside.map((x, k) => x - share * along[k]);
    const length = Math.hypot(...side);
    if (length < widthMm) continue;
    const copy = positions.length / 3;
    for (let k = 0; k < 3; k++) {
      positions.push(p[k] - (side[k] / length) * (widthMm / 2));
      positions[3 * v + k] += (side[k] / length) * (widthMm / 2);
    }
    for (const c of round.slice(half)) triangles[c] = copy;
    for (const c of fan) taken.add((c / 3) | 0);
    // neighbours keep their triangles too, so that slits stay apart
    for (const c of fan) for (const d of fans.get(triangles[after(c)]) ?? []) taken.add((d / 3) | 0);
    made++;
  }
  if (made < count) throw new RangeError(`only ${made} slits fit`);
  return { positions: Float64Array.from(positions), triangles };
}
