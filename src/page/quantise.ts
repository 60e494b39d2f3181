import { inOrderOfUse } from '../mesh/in-order-of-use.js';
import { boundingBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { meshKernel } from '../mesh/mesh-kernel.js';
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
export function quantised(mesh: TriangleMesh): QuantisedMesh {
  const used = inOrderOfUse(mesh);
  const { positions, triangles } = used;
  const { min: origin, size } = boundingBox(used);
  const extent = Math.max(...size);
  const stepMm = extent > 0 ? extent / LAST : 1;
  const steps =
    meshKernel(used)?.onGrid(positions, origin, stepMm) ?? onGridPlainly(positions, origin, stepMm);
  const indexBytes = positions.length / 3 <= LAST + 1 ? 2 : 4;
  return {
    origin,
    stepMm,
    positions: base64(steps),
    triangles: base64(indexBytes === 2 ? new Uint16Array(triangles) : triangles),
    indexBytes,
  };
}

/** Each coordinate in steps from the corner of the grid. */
export function onGridPlainly(positions: Float64Array, origin: Triple, stepMm: number): Uint16Array {
  const steps = new Uint16Array(positions.length);
  for (let i = 0; i < positions.length; i++)
    steps[i] = Math.min(LAST, Math.round((positions[i] - origin[i % 3]) / stepMm));
  return steps;
}

const base64 = ({ buffer, byteOffset, byteLength }: Uint16Array | Uint32Array): string =>
  Buffer.from(buffer, byteOffset, byteLength).toString('base64');
