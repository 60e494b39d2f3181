import type { TriangleMesh } from '../mesh/mesh.js';
import type { Triple } from './page-types.js';

/** A surface on a 16-bit grid, ready to be embedded in the page. */
export interface QuantisedMesh {
  origin: Triple;
  stepMm: number;
  positions: string;
  triangles: string;
  indexBytes: 2 | 4;
}

const LAST = 65_535;

/**
 * Quantises a surface to a grid of 65 536 steps along its longest side (6 µm on 400 mm) and writes it as base64, little-endian.
 * Vertices that no triangle uses are left out.
 */
export function quantised({ positions, triangles }: TriangleMesh): QuantisedMesh {
  const name = new Int32Array(positions.length / 3).fill(-1);
  const used = new Uint32Array(positions.length / 3);
  const low: Triple = [Infinity, Infinity, Infinity];
  const high: Triple = [-Infinity, -Infinity, -Infinity];
  const indices = new Uint32Array(triangles.length);
  let count = 0;
  for (let i = 0; i < triangles.length; i++) {
    const v = triangles[i];
    if (name[v] < 0) {
      name[v] = count;
      used[count++] = v;
      for (let k = 0; k < 3; k++) {
        const value = positions[3 * v + k];
        if (value < low[k]) low[k] = value;
        if (value > high[k]) high[k] = value;
      }
    }
    indices[i] = name[v];
  }
  const origin: Triple = count > 0 ? low : [0, 0, 0];
  const extent = count > 0 ? Math.max(high[0] - low[0], high[1] - low[1], high[2] - low[2]) : 0;
  const stepMm = extent > 0 ? extent / LAST : 1;
  const grid = new DataView(new ArrayBuffer(6 * count));
  for (let i = 0; i < 3 * count; i++) {
    const k = i % 3;
    const value = positions[3 * used[(i - k) / 3] + k];
    grid.setUint16(2 * i, Math.min(LAST, Math.round((value - origin[k]) / stepMm)), true);
  }
  const indexBytes = count <= LAST + 1 ? 2 : 4;
  const packed = new DataView(new ArrayBuffer(indices.length * indexBytes));
  for (let i = 0; i < indices.length; i++)
    if (indexBytes === 2) packed.setUint16(2 * i, indices[i], true);
    else packed.setUint32(4 * i, indices[i], true);
  return {
    origin,
    stepMm,
    positions: Buffer.from(grid.buffer).toString('base64'),
    triangles: Buffer.from(packed.buffer).toString('base64'),
    indexBytes,
  };
}
