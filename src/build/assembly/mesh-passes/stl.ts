// AssemblyScript: a mesh as a binary STL.
import { CORNERS, POINT_32, xOf, yOf, zOf } from '../shared/mesh';
import { STL_NORMAL, STL_TRIANGLE } from '../shared/stl';
import { a, b, c, layNormal, lookAt, nx, ny, nz } from './triangle';

/** Writes the triangles of a binary STL: normal and corners as 32-bit floats, and a 16-bit zero. */
export function stl(positions: usize, triangles: usize, count: u32, out: usize): void {
  for (let i: u32 = 0; i < count; i++) {
    lookAt(positions, triangles + <usize>i * CORNERS);
    const twice = layNormal();
    const row = out + <usize>i * STL_TRIANGLE;
    const unit = 1 / twice;
    store<f32>(row, <f32>(twice > 0 ? nx * unit : 0));
    store<f32>(row, <f32>(twice > 0 ? ny * unit : 0), 4);
    store<f32>(row, <f32>(twice > 0 ? nz * unit : 0), 8);
    const corners = row + STL_NORMAL;
    storePoint(corners, a);
    storePoint(corners + POINT_32, b);
    storePoint(corners + 2 * POINT_32, c);
    store<u16>(corners, 0, 3 * POINT_32);
  }
}

function storePoint(at: usize, p: usize): void {
  store<f32>(at, <f32>xOf(p));
  store<f32>(at, <f32>yOf(p), 4);
  store<f32>(at, <f32>zOf(p), 8);
}
