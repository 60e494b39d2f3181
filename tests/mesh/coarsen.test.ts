import { PlaneGeometry, TorusGeometry } from 'three';
import { describe, expect, it, vi } from 'vitest';
import { coarsened } from '../../src/mesh/coarsen.js';
import { measure } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { findSelfIntersections } from '../../src/mesh/self-intersection.js';
import { buildTopology, pinchedVertices } from '../../src/mesh/topology.js';
import { weld } from '../../src/mesh/weld.js';

// generous, for machines that do other work beside the tests
vi.setConfig({ testTimeout: 60_000 });

function fromThree(geometry: TorusGeometry | PlaneGeometry): TriangleMesh {
  const positions = Float64Array.from(geometry.toNonIndexed().getAttribute('position').array);
  return weld({ positions, triangles: Uint32Array.from({ length: positions.length / 3 }, (_, i) => i) }, 1e-5)
    .mesh;
}

const eulerOf = (mesh: TriangleMesh): number => {
  const { edgeCount } = buildTopology(mesh);
  return mesh.positions.length / 3 - edgeCount + mesh.triangles.length / 3;
};

describe('coarsened', () => {
  it('keeps a torus closed, of one hole and near the wall', () => {
    const [ring, tube] = [10, 3];
    const fine = fromThree(new TorusGeometry(ring, tube, 160, 500));
    const coarse = coarsened(fine, 0.5);
    expect(coarse.triangles.length).toBeLessThan(fine.triangles.length / 4);
    const topology = buildTopology(coarse);
    expect(topology.isWatertight).toBe(true);
    expect(pinchedVertices(coarse, topology)).toEqual([]);
    expect(eulerOf(coarse)).toBe(0);
    expect(findSelfIntersections(coarse).count).toBe(0);
    // edge²/(8R) for each doubling of the edge: a third more in all, and the edges reach 1.8 of the wanted length
    const most = ((0.5 * 1.8) ** 2 / (8 * tube)) * (4 / 3);
    for (let v = 0; v < coarse.positions.length; v += 3) {
      const [x, y, z] = coarse.positions.subarray(v, v + 3);
      expect(Math.abs(Math.hypot(Math.hypot(x, y) - ring, z) - tube)).toBeLessThan(most);
    }
    expect(measure(coarse).volumeMm3 / measure(fine).volumeMm3).toBeGreaterThan(0.975);
  });

  it('leaves the rim of an open surface as it is', () => {
    const fine = fromThree(new PlaneGeometry(10, 10, 40, 40));
    const coarse = coarsened(fine, 2);
    expect(coarse.triangles.length).toBeLessThan(fine.triangles.length / 2);
    const [before, now] = [buildTopology(fine).loops, buildTopology(coarse).loops];
    expect(now.map((l) => l.vertices.length)).toEqual(before.map((l) => l.vertices.length));
    expect(measure(coarse).areaMm2).toBeCloseTo(100, 6);
  });

  it('changes nothing where every edge is long enough, and gives the same twice', () => {
    const fine = fromThree(new TorusGeometry(10, 3, 24, 80));
    expect(coarsened(fine, 0.05).triangles).toHaveLength(fine.triangles.length);
    expect(coarsened(fine, 1)).toEqual(coarsened(fine, 1));
  });
});
