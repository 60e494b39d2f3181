import type { TriangleMesh } from '../mesh/mesh.js';
import type { Triple } from './page-types.js';

/** A surface on a 16-bit grid, ready to be embedded in the page. */
export interface QuantisedMesh {
  origin: Triple;
  stepMm: number;
  positions: string;
  triangles: string;
  indexBytes: 2 | 4;
  /** The surface as the page will draw it, on grid points, mm. */
  drawn: TriangleMesh;
}

const LAST = 65_535;

/**
 * Quantises a surface to a grid of 65 536 steps along its longest side (6 µm on 400 mm) and writes it as base64, little-endian.
 * Vertices that no triangle uses are left out.
 */
export function quantised({ positions, triangles }: TriangleMesh): QuantisedMesh {
  const name = new Int32Array(positions.length / 3).fill(-1);
  const used: number[] = [];
  const indices = new Uint32Array(triangles.length);
  for (let i = 0; i < triangles.length; i++) {
    const v = triangles[i];
    if (name[v] < 0) {
      name[v] = used.length;
      used.push(v);
    }
    indices[i] = name[v];
  }
  const low: Triple = [Infinity, Infinity, Infinity];
  const high: Triple = [-Infinity, -Infinity, -Infinity];
  for (const v of used)
    for (let k = 0; k < 3; k++) {
      low[k] = Math.min(low[k], positions[3 * v + k]);
      high[k] = Math.max(high[k], positions[3 * v + k]);
    }
  const origin: Triple = used.length > 0 ? low : [0, 0, 0];
  const extent = used.length > 0 ? Math.max(high[0] - low[0], high[1] - low[1], high[2] - low[2]) : 0;
  const stepMm = extent > 0 ? extent / LAST : 1;
  const grid = new Uint8Array(6 * used.length);
  const view = new DataView(grid.buffer);
  const drawn = new Float64Array(3 * used.length);
  used.forEach((v, i) => {
    for (let k = 0; k < 3; k++) {
      const step = Math.min(LAST, Math.round((positions[3 * v + k] - origin[k]) / stepMm));
      view.setUint16(6 * i + 2 * k, step, true);
      drawn[3 * i + k] = origin[k] + step * stepMm;
    }
  });
  const indexBytes = used.length <= LAST + 1 ? 2 : 4;
  const packed = new DataView(new ArrayBuffer(indices.length * indexBytes));
  indices.forEach((v, i) => {
    if (indexBytes === 2) packed.setUint16(2 * i, v, true);
    else packed.setUint32(4 * i, v, true);
  });
  return {
    origin,
    stepMm,
    positions: Buffer.from(grid.buffer).toString('base64'),
    triangles: Buffer.from(packed.buffer).toString('base64'),
    indexBytes,
    drawn: { positions: drawn, triangles: indices },
  };
}
