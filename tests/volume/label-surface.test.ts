import { describe, expect, it } from 'vitest';
import { measure } from '../../src/mesh/measures.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { randomStream } from '../../src/phantoms/random.js';
import { CELL_POLYGONS } from '../../src/volume/cell-polygons.js';
import { type VoxelGrid, VoxelRuns } from '../../src/volume/label-map.js';
import { labelSurface } from '../../src/volume/label-surface.js';

type Triple = [number, number, number];

const gridOf = (size: number, [x, y, z]: Triple): VoxelGrid => ({
  sizes: [size, size, size],
  origin: [-5, 3, 8],
  axes: [
    [x, 0, 0],
    [0, y, 0],
    [0, 0, z],
  ],
  isOriented: true,
  notes: [],
});

function runsWhere(grid: VoxelGrid, isInside: (i: number, j: number, k: number) => boolean): VoxelRuns {
  const [nx, ny, nz] = grid.sizes;
  const runs = new VoxelRuns(ny, { file: 'labels.nii', label: 1 });
  for (let k = 0; k < nz; k++)
    for (let j = 0; j < ny; j++)
      for (let i = 0; i < nx; i++) {
        if (!isInside(i, j, k)) continue;
        const first = i;
        while (i < nx && isInside(i, j, k)) i++;
        runs.add(k * ny + j, first, i);
      }
  return runs;
}

/** Voxels whose centre lies in a body around the middle of the grid, coordinates in mm from there. */
const bodyIn = (
  grid: VoxelGrid,
  isInside: (p: Triple) => boolean,
  shift: Triple = [0.13, 0.31, -0.2],
): VoxelRuns =>
  runsWhere(grid, (i, j, k) =>
    isInside(
      [i, j, k].map((n, c) => (n - grid.sizes[c] / 2) * Math.hypot(...grid.axes[c]) - shift[c]) as Triple,
    ),
  );

describe('the polygons of a cell', () => {
  it('have three to seven corners, and flip with the cell', () => {
    for (const polygons of CELL_POLYGONS)
      for (const edges of polygons) {
        expect(edges.length).toBeGreaterThanOrEqual(3);
        expect(edges.length).toBeLessThanOrEqual(7);
        expect(new Set(edges).size).toBe(edges.length);
      }
    expect(CELL_POLYGONS[0]).toEqual([]);
    expect(CELL_POLYGONS[255]).toEqual([]);
  });

  // marching cubes has at most four separate pieces of surface in a cell: Lorensen and Cline, SIGGRAPH 1987:163, from memory
  it('are at most four', () => {
    expect(Math.max(...CELL_POLYGONS.map((polygons) => polygons.length))).toBe(4);
  });
});

describe('the surface of a label', () => {
  it.each([0.05, 0.2, 0.5, 0.8])(
    'is closed and outward whatever the voxels are: noise, %f filled',
    (part) => {
      const random = randomStream(31 + 100 * part);
      const grid = gridOf(18, [0.7, 0.7, 1.1]);
      const inside = Uint8Array.from({ length: 18 ** 3 }, () => (random.next() < part ? 1 : 0));
      const mesh = labelSurface(
        grid,
        runsWhere(grid, (i, j, k) => inside[i + 18 * (j + 18 * k)] === 1),
      );
      expect(buildTopology(mesh).isWatertight).toBe(true);
      expect(measure(mesh).volumeMm3).toBeGreaterThan(0);
    },
  );

  it('is outward in a left-handed grid too', () => {
    const grid = gridOf(18, [0.7, 0.7, -1.1]);
    const mesh = labelSurface(
      grid,
      runsWhere(grid, (i, j, k) => (i - 9) ** 2 + (j - 9) ** 2 + (k - 9) ** 2 < 36),
    );
    expect(buildTopology(mesh).isWatertight).toBe(true);
    expect(measure(mesh).volumeMm3).toBeGreaterThan(0);
  });

  // volume of a ball and of an ellipsoid: 4/3 pi a b c (any handbook of mathematics)
  it.each<[string, Triple, number]>([
    ['a ball of 24 mm', [12, 12, 12], 0.004],
    ['a ball of 12 mm', [6, 6, 6], 0.012],
    ['an ellipsoid', [12, 8, 7], 0.008],
  ])('keeps the volume of %s', (_, [a, b, c], part) => {
    const grid = gridOf(52, [0.7, 0.7, 0.9]);
    const mesh = labelSurface(
      grid,
      bodyIn(grid, ([x, y, z]) => (x / a) ** 2 + (y / b) ** 2 + (z / c) ** 2 < 1),
    );
    const exact = (4 / 3) * Math.PI * a * b * c;
    expect(Math.abs(measure(mesh).volumeMm3 / exact - 1)).toBeLessThan(part);
  });

  it.each([1.5, 3, 6])('keeps the radius of an oblique tube of %f mm', (radiusMm) => {
    const grid = gridOf(70, [0.7, 0.7, 0.9]);
    const along: Triple = [0.48, 0.6, 0.64];
    const shift: Triple = [0.13, 0.31, -0.2];
    const away = (p: readonly number[]): { s: number; r: number } => {
      const s = p[0] * along[0] + p[1] * along[1] + p[2] * along[2];
      return { s, r: Math.sqrt(Math.max(0, p[0] ** 2 + p[1] ** 2 + p[2] ** 2 - s * s)) };
    };
    const runs = bodyIn(grid, (p) => away(p).r < radiusMm && Math.abs(away(p).s) < 15, shift);
    const { positions } = labelSurface(grid, runs);
    const radii: number[] = [];
    for (let v = 0; v < positions.length; v += 3) {
      const p = [0, 1, 2].map(
        (c) =>
          positions[v + c] - grid.origin[c] - (grid.sizes[c] / 2) * Math.hypot(...grid.axes[c]) - shift[c],
      );
      if (Math.abs(away(p).s) < 11) radii.push(away(p).r);
    }
    const mean = radii.reduce((sum, r) => sum + r, 0) / radii.length;
    const sd = Math.sqrt(radii.reduce((sum, r) => sum + (r - mean) ** 2, 0) / radii.length);
    expect(Math.abs(mean - radiusMm)).toBeLessThan(0.04);
    // the stairs of the voxels are up to half a voxel high; a seventh of that remains
    expect(sd).toBeLessThan(0.11);
  });

  it('of a tube extends through the wall it shares with the sac', () => {
    const grid = gridOf(40, [0.7, 0.7, 0.7]);
    const tube = runsWhere(grid, (i, j, k) => (i - 20) ** 2 + (j - 20) ** 2 < 16 && k >= 4 && k < 20);
    const sac = runsWhere(grid, (i, j, k) => (i - 20) ** 2 + (j - 20) ** 2 < 144 && k >= 20 && k < 34);
    const topOf = (joined: VoxelRuns[]): number => {
      const { positions } = labelSurface(grid, tube, joined);
      return Math.max(...positions.filter((_, i) => i % 3 === 2));
    };
    // one layer of voxels, 0.7 mm
    expect(topOf([sac]) - topOf([])).toBeGreaterThan(0.6);
    expect(topOf([sac]) - topOf([])).toBeLessThan(0.8);
  });
});

describe('a label of noise', () => {
  const tooLarge = /labels\.nii: label 1: its surface has more than 5000000 triangles: .* Clean or crop/;

  it('is refused while its rows are read', () => {
    const runs = new VoxelRuns(1000, { file: 'labels.nii', label: 1 });
    expect(() => {
      for (let row = 0; row < 1_250_001; row++) runs.add(row, 0, 1);
    }).toThrow(tooLarge);
  });

  it('is refused while its surface is built', () => {
    const grid = { ...gridOf(240, [0.7, 0.7, 0.7]), sizes: [240, 150, 150] as Triple };
    const rods = runsWhere(grid, (_, j, k) => j % 2 === 0 && k % 2 === 0);
    expect(() => labelSurface(grid, rods)).toThrow(tooLarge);
  });
});
