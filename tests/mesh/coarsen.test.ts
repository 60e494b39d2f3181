import { type BufferGeometry, CylinderGeometry, PlaneGeometry, TorusGeometry } from 'three';
import { describe, expect, it, vi } from 'vitest';
import { coarsened } from '../../src/mesh/coarsen.js';
import { measure } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { findSelfIntersections } from '../../src/mesh/self-intersection.js';
import { buildTopology, pinchedVertices } from '../../src/mesh/topology.js';
import { weld } from '../../src/mesh/weld.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

function fromThree(geometry: BufferGeometry): TriangleMesh {
  const positions = Float64Array.from(geometry.toNonIndexed().getAttribute('position').array);
  return weld({ positions, triangles: Uint32Array.from({ length: positions.length / 3 }, (_, i) => i) }, 1e-5)
    .mesh;
}

function* vertices({ positions }: TriangleMesh): Generator<[number, number, number]> {
  for (let p = 0; p < positions.length; p += 3) yield [positions[p], positions[p + 1], positions[p + 2]];
}

/** The triangles of the two end fans of a closed cylinder along y, cut into `rings` strips from the centre outwards. */
function withSpokesCut(mesh: TriangleMesh, rings: number): TriangleMesh {
  const soup: number[] = [];
  const point = (v: number): number[] => [...mesh.positions.subarray(3 * v, 3 * v + 3)];
  for (let t = 0; t < mesh.triangles.length; t += 3) {
    let corners = [0, 1, 2].map((k) => point(mesh.triangles[t + k]));
    const middle = corners.findIndex(([x, , z]) => Math.hypot(x, z) < 1e-6);
    if (middle < 0) {
      soup.push(...corners.flat());
      continue;
    }
    corners = [0, 1, 2].map((k) => corners[(middle + k) % 3]);
    const [centre, from, to] = corners;
    // to a millionth, so that neighbouring strips meet in equal points
    const along = (end: number[], ring: number): number[] =>
      ring === rings ? end : end.map((x, k) => Math.fround(centre[k] + ((x - centre[k]) * ring) / rings));
    for (let ring = 0; ring < rings; ring++) {
      const [a, b, c, d] = [along(from, ring), along(from, ring + 1), along(to, ring + 1), along(to, ring)];
      soup.push(...a, ...b, ...c);
      if (ring > 0) soup.push(...a, ...c, ...d);
    }
  }
  return weld({
    positions: Float64Array.from(soup),
    triangles: Uint32Array.from({ length: soup.length / 3 }, (_, i) => i),
  }).mesh;
}

const eulerOf = (mesh: TriangleMesh): number => {
  const { edgeCount } = buildTopology(mesh);
  return mesh.positions.length / 3 - edgeCount + mesh.triangles.length / 3;
};

describe('a coarsened mesh', () => {
  it('keeps a torus closed, with one hole and close to the wall', () => {
    const [ring, tube] = [10, 3];
    const fine = fromThree(new TorusGeometry(ring, tube, 160, 500));
    const coarse = coarsened(fine, 0.5);
    expect(coarse.triangles.length).toBeLessThan(fine.triangles.length / 4);
    const topology = buildTopology(coarse);
    expect(topology.isWatertight).toBe(true);
    expect(pinchedVertices(coarse, topology)).toEqual([]);
    expect(eulerOf(coarse)).toBe(0);
    expect(findSelfIntersections(coarse).count).toBe(0);
    // edge²/(8R) for each doubling of the edge: a third more in all, and the edges reach 1.8 times the desired length
    const most = ((0.5 * 1.8) ** 2 / (8 * tube)) * (4 / 3);
    for (let v = 0; v < coarse.positions.length; v += 3) {
      const [x, y, z] = coarse.positions.subarray(v, v + 3);
      expect(Math.abs(Math.hypot(Math.hypot(x, y) - ring, z) - tube)).toBeLessThan(most);
    }
    expect(measure(coarse).volumeMm3 / measure(fine).volumeMm3).toBeGreaterThan(0.975);
  });

  it('keeps the edge of a flat end sharp without folding it', () => {
    // a fan of long thin triangles, finely cut, as a fine segmentation gives for a capped vessel
    const [radius, height] = [4.5, 12];
    const fine = fromThree(new CylinderGeometry(radius, radius, height, 240, 100));
    const spokes = withSpokesCut(fine, 40);
    const coarse = coarsened(spokes, 0.5);
    expect(coarse.triangles.length).toBeLessThan(spokes.triangles.length / 4);
    expect(buildTopology(coarse).isWatertight).toBe(true);
    expect(findSelfIntersections(coarse).count).toBe(0);
    const rim = [...vertices(coarse)].filter(
      ([x, y, z]) => Math.abs(y) > height / 2 - 0.3 && Math.hypot(x, z) > radius - 0.3,
    );
    expect(rim.length).toBeGreaterThan(50);
    for (const [x, y, z] of rim) {
      const offEnd = height / 2 - Math.abs(y);
      const offWall = radius - Math.hypot(x, z);
      expect(Math.min(offEnd, offWall)).toBeLessThan(0.02);
    }
    expect(measure(coarse).volumeMm3 / measure(spokes).volumeMm3).toBeGreaterThan(0.995);
  });

  it('leaves the rim of an open surface unchanged', () => {
    const fine = fromThree(new PlaneGeometry(10, 10, 40, 40));
    const coarse = coarsened(fine, 2);
    expect(coarse.triangles.length).toBeLessThan(fine.triangles.length / 2);
    const [before, now] = [buildTopology(fine).loops, buildTopology(coarse).loops];
    expect(now.map((l) => l.vertices.length)).toEqual(before.map((l) => l.vertices.length));
    expect(measure(coarse).areaMm2).toBeCloseTo(100, 6);
  });

  it('changes nothing where every edge is long enough, and gives the same result twice', () => {
    const fine = fromThree(new TorusGeometry(10, 3, 24, 80));
    expect(coarsened(fine, 0.05).triangles).toHaveLength(fine.triangles.length);
    expect(coarsened(fine, 1)).toEqual(coarsened(fine, 1));
  });
});
