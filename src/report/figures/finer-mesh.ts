import type { TriangleMesh } from '../../mesh/mesh.js';

/** Guards against endless splitting; a metre in pieces of a millimetre takes ten splits of each edge. */
const MOST_ROUNDS = 40;

/**
 * A copy without edges longer than `edgeMm`: longer ones are halved, the longest of a triangle first. For pictures of values that are
 * known only at vertices; the shape is unchanged.
 */
export function finerMesh({ positions, triangles }: TriangleMesh, edgeMm: number): TriangleMesh {
  const p = [...positions];
  const middles = new Map<string, number>();
  const squared = (a: number, b: number): number =>
    [0, 1, 2].reduce((sum, k) => sum + (p[3 * a + k]! - p[3 * b + k]!) ** 2, 0);
  const middle = (a: number, b: number): number => {
    const key = a < b ? `${a} ${b}` : `${b} ${a}`;
    const known = middles.get(key);
    if (known !== undefined) return known;
    const made = p.length / 3;
    for (let k = 0; k < 3; k++) p.push((p[3 * a + k]! + p[3 * b + k]!) / 2);
    middles.set(key, made);
    return made;
  };
  let open: number[] = [...triangles];
  const done: number[] = [];
  for (let round = 0; open.length > 0 && round < MOST_ROUNDS; round++) {
    const next: number[] = [];
    for (let t = 0; t < open.length; t += 3) {
      const corners = [open[t]!, open[t + 1]!, open[t + 2]!];
      const lengths = corners.map((c, k) => squared(c, corners[(k + 1) % 3]!));
      const longest = lengths.indexOf(Math.max(...lengths));
      const [a, b, c] = [0, 1, 2].map((k) => corners[(longest + k) % 3]!) as [number, number, number];
      if (!(lengths[longest]! > edgeMm * edgeMm)) done.push(a, b, c);
      else {
        const m = middle(a, b);
        next.push(a, m, c, m, b, c);
      }
    }
    open = next;
  }
  for (const vertex of open) done.push(vertex);
  return { positions: Float64Array.from(p), triangles: Uint32Array.from(done) };
}
