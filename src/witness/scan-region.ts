import type { Vec3 } from '../foundation/vector.js';
import { middleOf } from '../grid/cells.js';
import { cellOf, type EvenGrid } from '../grid/even-grid.js';
import { fillCells } from '../grid/fill.js';
import { jointBox } from '../mesh/measures.js';
import { eachPoint } from '../mesh/transform.js';
import { type GreyVolume, valueAt, voxelMm } from '../volume/ct/grey-volume.js';
import type { BloodSurface } from './wall-points.js';

/** A part of the scan on a regular grid in patient axes, mm LPS. */
export interface GreyRegion extends EvenGrid {
  /** HU; NaN outside the scan. */
  grey: Float32Array;
}

/** The scan around a lesion, and the surface at each place. */
export interface ScanRegion extends GreyRegion {
  /** 0 outside all surfaces, otherwise the number of the surface, from 1. */
  owner: Uint8Array;
}

/** Margin of the grid beyond the surfaces, mm, and its greatest number of places. */
const MARGIN_MM = 30;
const MOST_PLACES = 24_000_000;
const STEPS_MM = [0.5, 1] as const;

/** The scan around the surfaces; `toScan` maps their axes to the scan's. */
export function scanRegion(
  surfaces: readonly BloodSurface[],
  volume: GreyVolume,
  toScan: (point: Vec3) => Vec3,
): ScanRegion {
  const laid = surfaces.map(({ mesh }) => eachPoint(mesh.positions, toScan));
  const { low, high } = jointBox(laid.map((positions) => ({ positions })));
  const region = greyRegion(volume, low, high, MARGIN_MM);
  const { originMm, stepMm, size, grey } = region;
  const [nx, ny, nz] = size;
  const owner = new Uint8Array(grey.length);
  laid.forEach((positions, s) => {
    const { triangles } = surfaces[s].mesh;
    const cells = fillCells(positions, triangles, stepMm);
    for (let cell = 0; cell < cells.count; cell++) {
      const at = middleOf(cells, cell);
      const [x, y, z] = at.map((v, k) => Math.round((v - originMm[k]) / stepMm));
      if (x < 0 || y < 0 || z < 0 || x >= nx || y >= ny || z >= nz) continue;
      owner[(x * ny + y) * nz + z] = s + 1;
    }
  });
  return { ...region, owner };
}

/** Step of a grid on which a scan is sampled: a voxel, limited to 0.5 to 1 mm. */
export const stepOf = (volume: GreyVolume): number =>
  Math.min(STEPS_MM[1], Math.max(STEPS_MM[0], voxelMm(volume)));

/**
 * The scan in a box (two corners, mm LPS) plus a margin; steps of a voxel, limited to 0.5 to 1 mm, coarser or with a smaller margin for a
 * large box.
 */
export function greyRegion(volume: GreyVolume, low: Vec3, high: Vec3, marginMm: number): GreyRegion {
  let stepMm = stepOf(volume);
  let margin = marginMm;
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
  return { originMm, stepMm, size, grey };
}

/** Calls `visit` with the neighbours of a place, and their distances in steps. */
export function beside(
  { size }: Pick<EvenGrid, 'size'>,
  place: number,
  visit: (other: number, steps: number) => void,
): void {
  const [nx, ny, nz] = size;
  const [x, y, z] = cellOf(size, place);
  for (let dx = x > 0 ? -1 : 0; dx <= (x < nx - 1 ? 1 : 0); dx++)
    for (let dy = y > 0 ? -1 : 0; dy <= (y < ny - 1 ? 1 : 0); dy++)
      for (let dz = z > 0 ? -1 : 0; dz <= (z < nz - 1 ? 1 : 0); dz++) {
        const far = dx * dx + dy * dy + dz * dz;
        if (far > 0) visit(place + (dx * ny + dy) * nz + dz, Math.sqrt(far));
      }
}

/** The places connected to `first` for which `isIn` holds; marks them as seen. */
export function gathered(
  region: Pick<EvenGrid, 'size'>,
  first: number,
  seen: Uint8Array,
  isIn: (place: number) => boolean,
): number[] {
  const places = [first];
  seen[first] = 1;
  for (let i = 0; i < places.length; i++)
    beside(region, places[i], (other) => {
      if (seen[other] || !isIn(other)) return;
      seen[other] = 1;
      places.push(other);
    });
  return places;
}

/** The places within `radiusMm` of those for which `isIn` holds, including these. */
export function grown(region: EvenGrid, isIn: (place: number) => boolean, radiusMm: number): Uint8Array {
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
    const [x, y, z] = cellOf(size, place);
    for (const [dx, dy, dz] of ball) {
      if (x + dx < 0 || y + dy < 0 || z + dz < 0 || x + dx >= nx || y + dy >= ny || z + dz >= nz) continue;
      out[place + (dx * ny + dy) * nz + dz] = 1;
    }
  }
  return out;
}
