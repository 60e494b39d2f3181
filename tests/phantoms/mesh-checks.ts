import type { TriangleMesh } from '../../src/mesh/mesh.js';

/** Signed volume by the divergence theorem, mm3. Shares no code with the program's own measurements. */
export function divergenceVolume({ positions: p, triangles: t }: TriangleMesh): number {
  let six = 0;
  for (let i = 0; i < t.length; i += 3) {
    const [a, b, c] = [3 * t[i], 3 * t[i + 1], 3 * t[i + 2]];
    six +=
      p[a] * (p[b + 1] * p[c + 2] - p[b + 2] * p[c + 1]) +
      p[a + 1] * (p[b + 2] * p[c] - p[b] * p[c + 2]) +
      p[a + 2] * (p[b] * p[c + 1] - p[b + 1] * p[c]);
  }
  return six / 6;
}

export interface EdgeCount {
  /** Directed edges without their opposite: 0 on a closed, consistently oriented surface. */
  open: number;
  /** Directed edges used more than once: 0 on a manifold. */
  repeated: number;
  /** Vertices whose triangles form more than one fan. */
  pinched: number;
  /** V - E + F. */
  euler: number;
}

/** Counts edges and vertex fans from the triangle list alone. */
export function countEdges({ positions, triangles: t }: TriangleMesh): EdgeCount {
  const used = new Map<string, number>();
  const around = new Map<number, Map<number, number>>();
  for (let i = 0; i < t.length; i += 3) {
    for (let k = 0; k < 3; k++) {
      const a = t[i + k];
      const b = t[i + ((k + 1) % 3)];
      const c = t[i + ((k + 2) % 3)];
      const key = `${a},${b}`;
      used.set(key, (used.get(key) ?? 0) + 1);
      const fan = around.get(a) ?? new Map<number, number>();
      fan.set(b, c);
      around.set(a, fan);
    }
  }
  let open = 0;
  let repeated = 0;
  for (const [key, count] of used) {
    const [a, b] = key.split(',');
    if (!used.has(`${b},${a}`)) open++;
    if (count > 1) repeated++;
  }
  let pinched = 0;
  for (const fan of around.values()) {
    const starts = [...fan.keys()];
    const targets = new Set(fan.values());
    let at: number | undefined = starts.find((b) => !targets.has(b)) ?? starts[0];
    let steps = 0;
    while (at !== undefined && fan.has(at) && steps < fan.size) {
      at = fan.get(at);
      steps++;
    }
    if (steps !== fan.size) pinched++;
  }
  const euler = positions.length / 3 - (used.size + open) / 2 + t.length / 3;
  return { open, repeated, pinched, euler };
}
