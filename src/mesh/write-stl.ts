import type { TriangleMesh } from './mesh.js';
import { STL_HEADER_BYTES, STL_TRIANGLE_BYTES } from './read/stl-binary.js';

/**
 * Binary STL in mm: 80 bytes of header text that says so (never beginning with "solid", which readers take for
 * the text form), count, then normal and corners as 32-bit floats. The name goes into the header, ASCII only.
 */
export function writeStl(mesh: TriangleMesh, name = ''): Uint8Array {
  const count = mesh.triangles.length / 3;
  const bytes = new Uint8Array(STL_HEADER_BYTES + STL_TRIANGLE_BYTES * count);
  const text = `binary STL, unit mm, pavm-planner${name ? `, ${name.replace(/[^\x20-\x7e]/g, '?')}` : ''}`;
  bytes.set(new TextEncoder().encode(text.slice(0, 80).padEnd(80)));
  const view = new DataView(bytes.buffer);
  view.setUint32(80, count, true);
  const { positions, triangles } = mesh;
  for (let t = 0; t < count; t++) {
    const a = 3 * triangles[3 * t];
    const b = 3 * triangles[3 * t + 1];
    const c = 3 * triangles[3 * t + 2];
    const ux = positions[b] - positions[a];
    const uy = positions[b + 1] - positions[a + 1];
    const uz = positions[b + 2] - positions[a + 2];
    const vx = positions[c] - positions[a];
    const vy = positions[c + 1] - positions[a + 1];
    const vz = positions[c + 2] - positions[a + 2];
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    const norm = Math.sqrt(nx * nx + ny * ny + nz * nz);
    const f = norm > 0 ? 1 / norm : 0;
    const p = STL_HEADER_BYTES + STL_TRIANGLE_BYTES * t;
    view.setFloat32(p, nx * f, true);
    view.setFloat32(p + 4, ny * f, true);
    view.setFloat32(p + 8, nz * f, true);
    let q = p + 12;
    for (const corner of [a, b, c]) {
      for (let k = 0; k < 3; k++, q += 4) view.setFloat32(q, positions[corner + k], true);
    }
  }
  return bytes;
}
