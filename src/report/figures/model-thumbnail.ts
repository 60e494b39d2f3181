import { add, cross, normalize, scale, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { encodePng } from './png.js';
import { rasterise, withMargins } from './raster.js';
import type { Projection } from './raster-samples.js';

const SIZE = 256;
/** Share of the picture's width that the model takes up. */
const FILL = 0.92;

/** One body of the picture, with its position in the build. */
interface ShownBody {
  mesh: TriangleMesh;
  /** `#RRGGBB`. */
  colour: string;
  moveMm?: Vec3;
}

/** A small picture of what is printed, from the front, the left and above (LPS or RAS axes), as the bytes of a PNG. Same input, same bytes. */
export function modelThumbnail(bodies: readonly ShownBody[], frame: 'LPS' | 'RAS' | 'unknown'): Uint8Array {
  const parts = bodies.map(({ mesh, colour, moveMm }) => ({
    mesh: moveMm
      ? { positions: mesh.positions.map((x, i) => x + moveMm[i % 3]), triangles: mesh.triangles }
      : mesh,
    colour: [1, 3, 5].map((i) => Number.parseInt(colour.slice(i, i + 2), 16)) as Vec3,
  }));
  const front: Vec3 = frame === 'RAS' ? [0, 1, 0] : [0, -1, 0];
  const side: Vec3 = frame === 'RAS' ? [-1, 0, 0] : [1, 0, 0];
  const towards = normalize(add(add(front, scale(side, 0.45)), [0, 0, 0.35]));
  const right = normalize(cross([0, 0, 1], towards));
  const up = cross(towards, right);
  const axes = [right, scale(up, -1), scale(towards, -1)];
  const ends = axes.map((axis) => extent(parts, axis));
  const perMm = (FILL * SIZE) / Math.max(1e-6, ...ends.slice(0, 2).map((e) => e.max - e.min));
  const rows = axes.map((axis, k) => {
    const middle = (ends[k].min + ends[k].max) / 2;
    const offset = (k < 2 ? SIZE / 2 : 0) - perMm * middle;
    return [...scale(axis, perMm), offset] as unknown as Projection[0];
  });
  const picture = rasterise(parts, [rows[0], rows[1], rows[2]], SIZE, SIZE);
  return encodePng(withMargins(picture, SIZE, SIZE), SIZE, SIZE, picture.channels);
}

function extent(parts: readonly { mesh: TriangleMesh }[], axis: Vec3): { min: number; max: number } {
  let [min, max] = [Infinity, -Infinity];
  for (const { mesh } of parts) {
    const p = mesh.positions;
    for (let i = 0; i < p.length; i += 3) {
      const d = p[i] * axis[0] + p[i + 1] * axis[1] + p[i + 2] * axis[2];
      if (d < min) min = d;
      if (d > max) max = d;
    }
  }
  return { min, max };
}
