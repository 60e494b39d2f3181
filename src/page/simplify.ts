import type { Manifold } from 'manifold-3d/manifold';
import type { TriangleMesh } from '../mesh/mesh.js';

/** A surface to simplify for display; `coarse` if it only surrounds the lesion. */
export interface Thinnable {
  mesh: TriangleMesh;
  coarse: boolean;
}

/** Limit on the triangles of a page: about 0.7 MB, and smooth without a graphics card. */
export const DISPLAY_TRIANGLES = 60_000;

/** Tolerances tried in turn, mm; four times as large for the surroundings. */
const TOLERANCES_MM = [0.01, 0.02, 0.04, 0.08, 0.16, 0.32];
const COARSE = 4;
/** A surface with more triangles is first merged in fine cells, to limit the kernel's memory. */
const LARGEST_FOR_KERNEL = 1_500_000;
const FIRST_CELLS = 1024;
/** Cells along the longest side for a surface that is not a solid; halved until the budget is met. */
const FINEST_CELLS = 512;

/**
 * Copies of the surfaces with at most `budget` triangles in all, if the coarsest tolerance allows it; surfaces within the budget are
 * returned as they are. Closed ones are simplified by the solid kernel (a subset of the vertices, moved by less than twice the tolerance),
 * open ones by merging vertices in cells. The distance is measured afterwards, by `display-error.ts`. Linear in the triangles for each
 * tolerance tried.
 */
export async function thinned(
  surfaces: readonly Thinnable[],
  budget: number = DISPLAY_TRIANGLES,
): Promise<TriangleMesh[]> {
  const all = surfaces.reduce((sum, { mesh }) => sum + mesh.triangles.length / 3, 0);
  if (all <= budget) return surfaces.map(({ mesh }) => mesh);
  const { default: load } = await import('manifold-3d/manifold');
  const kernel = await load();
  kernel.setup();
  const prepared = surfaces.map(({ mesh, coarse }) => ({
    mesh: mesh.triangles.length / 3 > LARGEST_FOR_KERNEL ? mergedInCells(mesh, FIRST_CELLS) : mesh,
    coarse,
  }));
  const solids = prepared.map(({ mesh }): Manifold | undefined => {
    try {
      return new kernel.Manifold(
        new kernel.Mesh({
          numProp: 3,
          vertProperties: Float32Array.from(mesh.positions),
          triVerts: mesh.triangles,
        }),
      );
    } catch {
      // The kernel throws on a surface that is not closed or not consistently wound; cells are used instead.
      return undefined;
    }
  });
  try {
    let cells: (TriangleMesh | undefined)[] = [];
    for (const [level, tolerance] of TOLERANCES_MM.entries()) {
      cells = prepared.map(({ mesh, coarse }, i) => {
        const solid = solids[i];
        if (!solid) return mergedInCells(mesh, FINEST_CELLS / 2 ** (level + (coarse ? 2 : 0)));
        // Each level simplifies the result of the one before, which has far fewer triangles.
        solids[i] = solid.simplify(coarse ? tolerance * COARSE : tolerance);
        solid.delete();
        return undefined;
      });
      const count = cells.reduce(
        (sum, mesh, i) => sum + (mesh ? mesh.triangles.length / 3 : solids[i]!.numTri()),
        0,
      );
      if (count <= budget) break;
    }
    return cells.map((mesh, i) => mesh ?? meshOf(solids[i]!));
  } finally {
    for (const solid of solids) solid?.delete();
  }
}

function meshOf(solid: Manifold): TriangleMesh {
  const { numProp, vertProperties, triVerts } = solid.getMesh();
  const count = vertProperties.length / numProp;
  const positions = new Float64Array(3 * count);
  for (let v = 0; v < count; v++)
    for (let k = 0; k < 3; k++) positions[3 * v + k] = vertProperties[numProp * v + k];
  return { positions, triangles: Uint32Array.from(triVerts) };
}

/** One vertex for each occupied cell of a cubic grid: the first one found there, so that every vertex is on the surface. */
export function mergedInCells({ positions, triangles }: TriangleMesh, cells: number): TriangleMesh {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < positions.length; i++) {
    low[i % 3] = Math.min(low[i % 3], positions[i]);
    high[i % 3] = Math.max(high[i % 3], positions[i]);
  }
  const size = Math.max(high[0] - low[0], high[1] - low[1], high[2] - low[2]);
  const perMm = size > 0 ? Math.max(1, cells) / size : 0;
  const first = new Map<number, number>();
  const kept: number[] = [];
  const name = new Uint32Array(positions.length / 3);
  const stride = Math.max(1, cells) + 2;
  for (let v = 0; v < name.length; v++) {
    const cell = (k: number): number => Math.floor((positions[3 * v + k] - low[k]) * perMm);
    const key = (cell(0) * stride + cell(1)) * stride + cell(2);
    let index = first.get(key);
    if (index === undefined) {
      index = kept.length / 3;
      first.set(key, index);
      kept.push(positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]);
    }
    name[v] = index;
  }
  const left: number[] = [];
  for (let t = 0; t < triangles.length; t += 3) {
    const [a, b, c] = [name[triangles[t]], name[triangles[t + 1]], name[triangles[t + 2]]];
    if (a !== b && b !== c && c !== a) left.push(a, b, c);
  }
  return { positions: Float64Array.from(kept), triangles: Uint32Array.from(left) };
}
