import { createHash } from 'node:crypto';
import type { TriangleMesh } from '../mesh/mesh.js';

/** The identity of a print. */
export interface ModelId {
  /** Hash of the printed body, before its tag, and of its scale and wall. */
  sha256: string;
  /** The first eight characters, in capitals, as on the tag. */
  short: string;
}

/** The hash of a printed body: its coordinates as in an STL file (32 bits), its triangles, scale and wall. */
export function modelId(body: TriangleMesh, printScale: number, wallMm: number): ModelId {
  const hash = createHash('sha256');
  hash.update(`scale ${printScale} wall ${wallMm} `);
  const { positions, triangles } = body;
  const bytes = new DataView(new ArrayBuffer(4 * (positions.length + triangles.length)));
  for (let i = 0; i < positions.length; i++) bytes.setFloat32(4 * i, positions[i], true);
  const after = 4 * positions.length;
  for (let i = 0; i < triangles.length; i++) bytes.setUint32(after + 4 * i, triangles[i], true);
  hash.update(new Uint8Array(bytes.buffer));
  const sha256 = hash.digest('hex');
  return { sha256, short: sha256.slice(0, 8).toUpperCase() };
}
