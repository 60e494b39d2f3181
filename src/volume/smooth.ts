import type { TriangleMesh } from '../mesh/mesh.js';

/** Taubin's pair of steps: towards the mean of the neighbours, then slightly farther back, to avoid shrinkage. */
const STEPS = [0.5, -0.53] as const;

/** The mesh after `rounds` of smoothing without shrinkage (Taubin, SIGGRAPH 1995:351, from memory). Closed meshes; linear. */
export function smoothed({ positions, triangles }: TriangleMesh, rounds: number): TriangleMesh {
  const count = positions.length / 3;
  const valence = new Uint32Array(count);
  // in a closed mesh each edge at a vertex starts there once
  for (let h = 0; h < triangles.length; h++) valence[triangles[h]]++;
  let now = positions.slice();
  let sums = new Float64Array(positions.length);
  for (let round = 0; round < rounds; round++) {
    for (const step of STEPS) {
      sums.fill(0);
      for (let h = 0; h < triangles.length; h++) {
        const v = 3 * triangles[h];
        const w = 3 * triangles[h % 3 === 2 ? h - 2 : h + 1];
        sums[v] += now[w];
        sums[v + 1] += now[w + 1];
        sums[v + 2] += now[w + 2];
      }
      for (let i = 0; i < now.length; i++) {
        const n = valence[(i / 3) | 0];
        sums[i] = n === 0 ? now[i] : now[i] + step * (sums[i] / n - now[i]);
      }
      [now, sums] = [sums, now];
    }
  }
  return { positions: now, triangles };
}
