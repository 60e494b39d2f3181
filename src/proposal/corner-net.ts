import { dot, normalize, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { layNormal } from '../mesh/triangle-normal.js';

/** The vertices of a closed mesh with the neighbours of each. */
export class CornerNet {
  private readonly start: Uint32Array;
  private readonly others: Uint32Array;
  private readonly triangles: Uint32Array;

  constructor({ positions, triangles }: TriangleMesh) {
    const count = positions.length / 3;
    this.triangles = triangles;
    this.start = new Uint32Array(count + 1);
    for (const v of triangles) this.start[v + 1]++;
    for (let v = 0; v < count; v++) this.start[v + 1] += this.start[v];
    this.others = new Uint32Array(triangles.length);
    const next = this.start.slice(0, count);
    // in a closed mesh each edge at a vertex starts there once
    for (let h = 0; h < triangles.length; h++)
      this.others[next[triangles[h]]++] = triangles[h % 3 === 2 ? h - 2 : h + 1];
  }

  around(v: number): number[] {
    return [...this.others.subarray(this.start[v], this.start[v + 1])];
  }

  /** Area-weighted unit normals, averaged over neighbours `rounds` times. */
  normals(positions: Float64Array, rounds: number): Float64Array {
    let sums = new Float64Array(positions.length);
    const n = new Float64Array(3);
    for (let t = 0; t < this.triangles.length; t += 3) {
      layNormal({ positions, triangles: this.triangles }, t / 3, n);
      for (let k = 0; k < 3; k++) for (let d = 0; d < 3; d++) sums[3 * this.triangles[t + k] + d] += n[d];
    }
    const unit = (values: Float64Array): void => {
      for (let v = 0; v < values.length; v += 3) {
        const n = normalize([values[v], values[v + 1], values[v + 2]]);
        for (let d = 0; d < 3; d++) values[v + d] = n[d];
      }
    };
    unit(sums);
    for (let round = 0; round < rounds; round++) {
      const next = sums.slice();
      for (let v = 0; v + 1 < this.start.length; v++)
        for (let i = this.start[v]; i < this.start[v + 1]; i++)
          for (let d = 0; d < 3; d++) next[3 * v + d] += sums[3 * this.others[i] + d];
      unit(next);
      sums = next;
    }
    return sums;
  }

  /** Sum of both curvatures at each vertex, per mm, positive on a ball: twice the mean turn of the normal per length. */
  bends(positions: Float64Array, normals: Float64Array): Float64Array {
    return Float64Array.from({ length: this.start.length - 1 }, (_, v) => {
      let [sum, count] = [0, 0];
      for (let i = this.start[v]; i < this.start[v + 1]; i++) {
        const w = this.others[i];
        const [p, n] = [[0, 0, 0] as Vec3, [0, 0, 0] as Vec3];
        for (let d = 0; d < 3; d++) {
          p[d] = positions[3 * w + d] - positions[3 * v + d];
          n[d] = normals[3 * w + d] - normals[3 * v + d];
        }
        const square = dot(p, p);
        if (square < 1e-6) continue;
        sum += dot(n, p) * Math.sqrt(square);
        count += square * Math.sqrt(square);
      }
      return count > 0 ? (2 * sum) / count : 0;
    });
  }

  /** Averages each value with its neighbours, `rounds` times. */
  averaged(values: Float64Array, rounds: number): Float64Array {
    let now = values;
    for (let round = 0; round < rounds; round++) {
      const next = new Float64Array(now.length);
      for (let v = 0; v < now.length; v++) {
        let sum = 0;
        for (let i = this.start[v]; i < this.start[v + 1]; i++) sum += now[this.others[i]];
        const n = this.start[v + 1] - this.start[v];
        next[v] = n > 0 ? (now[v] + sum) / (1 + n) : now[v];
      }
      now = next;
    }
    return now;
  }

  /** Fills unknown values: the nearest known ones spread ring by ring and are then smoothed in place. */
  filled(values: Float64Array, isKnown: Uint8Array): Float64Array {
    const now = values.slice();
    const has = isKnown.slice();
    let open = Array.from({ length: now.length }, (_, v) => v).filter((v) => !has[v]);
    while (open.length > 0) {
      const found: [number, number][] = [];
      for (const v of open) {
        const near = this.around(v).filter((w) => has[w]);
        if (near.length > 0) found.push([v, near.reduce((sum, w) => sum + now[w], 0) / near.length]);
      }
      if (found.length === 0) break;
      for (const [v, value] of found) {
        now[v] = value;
        has[v] = 1;
      }
      open = open.filter((v) => !has[v]);
    }
    for (let round = 0; round < 10; round++)
      for (let v = 0; v < now.length; v++) {
        if (isKnown[v]) continue;
        const near = this.around(v);
        if (near.length > 0) now[v] = near.reduce((sum, w) => sum + now[w], 0) / near.length;
      }
    return now;
  }
}
