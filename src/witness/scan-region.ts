import type { Vec3 } from '../foundation/vector.js';
import { middleOf } from '../grid/cells.js';
import { fillCells } from '../grid/fill.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import type { BloodSurface } from './wall-points.js';

/** The scan about a lesion on an even grid, LPS, and what of it the surfaces hold; z runs fastest, then y, then x. */
export interface ScanRegion {
  originMm: Vec3;
  stepMm: number;
  size: [number, number, number];
  /** HU; NaN outside of the scan. */
  grey: Float32Array;
  /** 0 outside of every surface, otherwise the number of the surface from 1 on. */
  owner: Uint8Array;
}

/** The grid reaches this far beyond the surfaces, mm, and has no more places. */
const MARGIN_MM = 30;
const MOST_PLACES = 24_000_000;
const STEPS_MM = [0.5, 1] as const;

/** The scan about the surfaces; `toScan` leads from their axes to the scan's. */
export function scanRegion(
  surfaces: readonly BloodSurface[],
  volume: GreyVolume,
  toScan: (point: Vec3) => Vec3,
): ScanRegion {
  const laid = surfaces.map(({ mesh }) => placed(mesh.positions, toScan));
  const low: Vec3 = [Infinity, Infinity, Infinity];
  const high: Vec3 = [-Infinity, -Infinity, -Infinity];
  for (const positions of laid)
    for (let i = 0; i < positions.length; i++) {
      low[i % 3] = Math.min(low[i % 3], positions[i]);
      high[i % 3] = Math.max(high[i % 3], positions[i]);
    }
  const voxelMm = voxelOf(volume);
  let stepMm = Math.min(STEPS_MM[1], Math.max(STEPS_MM[0], voxelMm));
  let margin = MARGIN_MM;
  const places = (): number =>
    low.reduce((product, x, k) => product * ((high[k] - x + 2 * margin) / stepMm + 1), 1);
  while (places() > MOST_PLACES && margin > 10) margin -= 5;
  while (places() > MOST_PLACES) stepMm *= 1.1;
  const originMm = low.map((x) => x - margin) as Vec3;
  const size = high.map((x, k) => Math.floor((x + margin - originMm[k]) / stepMm) + 1) as Vec3;
  const [nx, ny, nz] = size;
  const grey = new Float32Array(nx * ny * nz);
  let n = 0;
  for (let x = 0; x < nx; x++)
    for (let y = 0; y < ny; y++)
      for (let z = 0; z < nz; z++, n++)
        grey[n] = valueAt(
          volume,
          originMm[0] + x * stepMm,
          originMm[1] + y * stepMm,
          originMm[2] + z * stepMm,
        );
  const owner = new Uint8Array(grey.length);
  laid.forEach((positions, s) => {
    const { triangles } = surfaces[s].mesh;
    const cells = fillCells(positions, facingOut(positions, triangles), stepMm);
    for (let cell = 0; cell < cells.count; cell++) {
      const at = middleOf(cells, cell);
      const [x, y, z] = at.map((v, k) => Math.round((v - originMm[k]) / stepMm));
      if (x < 0 || y < 0 || z < 0 || x >= nx || y >= ny || z >= nz) continue;
      owner[(x * ny + y) * nz + z] = s + 1;
    }
  });
  return { originMm, stepMm, size, grey, owner };
}

/** Middle of a place of the grid, mm LPS. */
export function placeMm({ originMm, stepMm, size }: ScanRegion, place: number): Vec3 {
  const z = place % size[2];
  const y = ((place - z) / size[2]) % size[1];
  const x = (place - z - size[2] * y) / (size[2] * size[1]);
  return [originMm[0] + x * stepMm, originMm[1] + y * stepMm, originMm[2] + z * stepMm];
}

/** Calls `visit` with the places of the grid beside one, and how far they are, in steps. */
export function beside(
  { size: [nx, ny, nz] }: Pick<ScanRegion, 'size'>,
  place: number,
  visit: (other: number, steps: number) => void,
): void {
  const z = place % nz;
  const y = ((place - z) / nz) % ny;
  const x = (place - z - nz * y) / (nz * ny);
  for (let dx = x > 0 ? -1 : 0; dx <= (x < nx - 1 ? 1 : 0); dx++)
    for (let dy = y > 0 ? -1 : 0; dy <= (y < ny - 1 ? 1 : 0); dy++)
      for (let dz = z > 0 ? -1 : 0; dz <= (z < nz - 1 ? 1 : 0); dz++) {
        const far = dx * dx + dy * dy + dz * dz;
        if (far > 0) visit(place + (dx * ny + dy) * nz + dz, Math.sqrt(far));
      }
}

/** The places within `radiusMm` of those that `isIn` names, these included. */
export function grown(region: ScanRegion, isIn: (place: number) => boolean, radiusMm: number): Uint8Array {
  const { size, stepMm } = region;
  const [nx, ny, nz] = size;
  const out = new Uint8Array(nx * ny * nz);
  const reach = Math.ceil(radiusMm / stepMm);
  const ball: [number, number, number][] = [];
  for (let dx = -reach; dx <= reach; dx++)
    for (let dy = -reach; dy <= reach; dy++)
      for (let dz = -reach; dz <= reach; dz++)
        if (dx * dx + dy * dy + dz * dz <= (radiusMm / stepMm) ** 2) ball.push([dx, dy, dz]);
  for (let place = 0; place < out.length; place++) {
    if (!isIn(place)) continue;
    out[place] = 1;
    let isRim = false;
    beside(region, place, (other) => {
      if (!isIn(other)) isRim = true;
    });
    if (!isRim) continue;
    const z = place % nz;
    const y = ((place - z) / nz) % ny;
    const x = (place - z - nz * y) / (nz * ny);
    for (const [dx, dy, dz] of ball) {
      if (x + dx < 0 || y + dy < 0 || z + dz < 0 || x + dx >= nx || y + dy >= ny || z + dz >= nz) continue;
      out[place + (dx * ny + dy) * nz + dz] = 1;
    }
  }
  return out;
}

function placed(positions: Float64Array, toScan: (point: Vec3) => Vec3): Float64Array {
  const out = new Float64Array(positions.length);
  for (let i = 0; i < out.length; i += 3)
    out.set(toScan([positions[i], positions[i + 1], positions[i + 2]]), i);
  return out;
}

/** A turn of the axes may mirror a surface: then its triangles are turned over. */
function facingOut(positions: Float64Array, triangles: Uint32Array): Uint32Array {
  let volume = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    const [a, b, c] = [triangles[t], triangles[t + 1], triangles[t + 2]].map((v) => 3 * v);
    volume +=
      positions[a] * (positions[b + 1] * positions[c + 2] - positions[b + 2] * positions[c + 1]) +
      positions[a + 1] * (positions[b + 2] * positions[c] - positions[b] * positions[c + 2]) +
      positions[a + 2] * (positions[b] * positions[c + 1] - positions[b + 1] * positions[c]);
  }
  if (volume >= 0) return triangles;
  return triangles.map((_, i, all) => all[i - (i % 3) + [0, 2, 1][i % 3]]);
}

const voxelOf = ({ stack }: GreyVolume): number =>
  Math.cbrt(
    Math.hypot(...stack.columnStep) *
      Math.hypot(...stack.rowStep) *
      ((stack.heights[stack.slices - 1] - stack.heights[0]) / (stack.slices - 1)),
  );
