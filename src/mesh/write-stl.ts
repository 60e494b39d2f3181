import type { TriangleMesh } from './mesh.js';
import { passesOver } from './mesh-passes.js';
import { STL_HEADER_BYTES } from './read/stl-binary.js';
import { STL_TRIANGLE_BYTES } from './read/stl-welder.js';
import { layNormal } from './triangle-normal.js';

/**
 * Binary STL in mm: 80 bytes of header text that states the unit (never beginning with "solid", which indicates the text format), count,
 * then normal and corners as 32-bit floats. The name is in the header, ASCII only.
 */
export function writeStl(mesh: TriangleMesh, name = ''): Uint8Array {
  const count = mesh.triangles.length / 3;
  const bytes = new Uint8Array(STL_HEADER_BYTES + STL_TRIANGLE_BYTES * count);
  const text = `binary STL, unit mm, pavm-planner${name ? `, ${name.replace(/[^\x20-\x7e]/g, '?')}` : ''}`;
  bytes.set(new TextEncoder().encode(text.slice(0, 80).padEnd(80)));
  const view = new DataView(bytes.buffer);
  view.setUint32(80, count, true);
  bytes.set(passesOver(mesh)?.stl() ?? plainStl(mesh), STL_HEADER_BYTES);
  return bytes;
}

/** The triangles. */
export function plainStl(mesh: TriangleMesh): Uint8Array {
  const { positions, triangles } = mesh;
  const count = triangles.length / 3;
  const bytes = new Uint8Array(STL_TRIANGLE_BYTES * count);
  const view = new DataView(bytes.buffer);
  const normal = new Float64Array(3);
  for (let t = 0; t < count; t++) {
    const twice = layNormal(mesh, t, normal);
    const p = STL_TRIANGLE_BYTES * t;
    for (let k = 0; k < 3; k++) view.setFloat32(p + 4 * k, twice > 0 ? normal[k] * (1 / twice) : 0, true);
    let q = p + 12;
    for (let corner = 3 * t; corner < 3 * t + 3; corner++) {
      const from = 3 * triangles[corner];
      for (let k = 0; k < 3; k++, q += 4) view.setFloat32(q, positions[from + k], true);
    }
  }
  return bytes;
}
