import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { searchCompiled, searchPlainly } from '../../src/mesh/self-intersection.js';
import { box, cylinder, gridSphere, moved, ringVessel, together, tube } from './shapes.js';

const FILE = fileURLToPath(new URL('../../dist/mesh/self-intersection.wasm', import.meta.url));

function program(): WebAssembly.Module {
  if (!existsSync(FILE)) throw new Error(`${FILE} is missing. Run: npm run build`);
  return new WebAssembly.Module(readFileSync(FILE));
}

/** Triangles between few points of a coarse lattice: flat overlaps, folds, shared corners and edges, repeated vertices. */
function lattice(count: number): TriangleMesh {
  let state = 5;
  const draw = (most: number): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * most);
  };
  const points = 4 * 4 * 3;
  const positions = Float64Array.from({ length: 3 * points }, (_, i) =>
    i % 3 === 0 ? Math.floor(i / 36) : i % 3 === 1 ? Math.floor(i / 9) % 4 : 0.7 * (Math.floor(i / 3) % 3),
  );
  return { positions, triangles: Uint32Array.from({ length: 3 * count }, () => draw(points)) };
}

const turned = (mesh: TriangleMesh): TriangleMesh => ({
  ...mesh,
  positions: mesh.positions.map((_, i) => mesh.positions[i - (i % 3) + ((i + 1) % 3)] + 0.013),
});

it.each<[string, TriangleMesh, number]>([
  ['clean sphere', gridSphere(40, 10), 1000],
  ['ring', ringVessel(60, 3, 12), 1000],
  ['overlapping boxes on a grid', together(box(2, 2, 2), box(2, 2, 2, [1, 1, 1])), 1000],
  ['coincident boxes', together(box(2, 2, 2), box(2, 2, 2)), 1000],
  ['crossing tubes', together(tube(24, 2, 9, 30), turned(tube(24, 2, 9, 30))), 1000],
  ['crossing spheres, count limited', together(gridSphere(40, 10), turned(gridSphere(40, 9.9))), 20],
  [
    'crossing prisms far from the origin',
    moved(together(cylinder(64, 3, 10), turned(cylinder(64, 3, 10))), [9e3, -9e3, 9e3]),
    1000,
  ],
  ['lattice', lattice(300), 100_000],
  ['two triangles', lattice(2), 1000],
])(
  '%s: the compiled search finds the same as the plain one, in the same order, to the last bit',
  (_, mesh, most) => {
    for (const pairBudget of [1e7, 5000, 40]) {
      const plain = searchPlainly(mesh, most, pairBudget);
      expect(searchCompiled(program(), mesh, most, pairBudget)).toEqual(plain);
    }
  },
);

it('the shapes above cross in every way', () => {
  const counts = [lattice(300), together(box(2, 2, 2), box(2, 2, 2)), lattice(2)].map(
    (mesh) => searchPlainly(mesh, 100_000, 1e7).found.length,
  );
  expect(counts[0]).toBeGreaterThan(1000);
  expect(counts[1]).toBeGreaterThan(5);
  expect(searchPlainly(gridSphere(40, 10), 1000, 40).isComplete).toBe(false);
});
