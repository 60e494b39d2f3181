import { describe, expect, it } from 'vitest';
import { measure } from '../../src/mesh/measures.js';
import { loopWidths, mendCracks } from '../../src/mesh/mend.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { cracked, cutThrough, type Slit } from './cracks.js';
import { cylinder, gridSphere, moved, soupOf, together, tube, without } from './shapes.js';
import { weld } from '../../src/mesh/weld.js';

const N = 48;
const mend = (mesh: TriangleMesh, widthMm: number) => mendCracks(mesh, buildTopology(mesh), widthMm);

describe('closing cracks up to a width', () => {
  const slits: Slit[] = [
    { ring: 5, column: 3, edges: 4, along: true, widthMm: 0.1 },
    { ring: 12, column: 10, edges: 12, along: false, widthMm: 0.2 },
    { ring: 20, column: 30, edges: 2, along: true, widthMm: 0.05 },
  ];
  const whole = cylinder(N, 3, 30, 40);
  const torn = cracked(whole, N, slits);

  it('finds the slits open and as wide as they were made', () => {
    const topology = buildTopology(torn);
    expect(topology.loops).toHaveLength(3);
    const widths = loopWidths(torn, topology).sort((a, b) => a! - b!);
    for (const [i, truth] of [0.05, 0.1, 0.2].entries()) {
      expect(widths[i]).toBeGreaterThan(0.9 * truth);
      expect(widths[i]).toBeLessThan(1.1 * truth);
    }
  });

  it('closes those no wider, moves nothing else and says where', () => {
    const { mesh, topology, cracks } = mend(torn, 0.25);
    expect(topology.isWatertight).toBe(true);
    expect(mesh.positions).toBe(torn.positions);
    expect(mesh.triangles.subarray(0, torn.triangles.length)).toEqual(torn.triangles);
    expect(cracks.map((c) => Math.round(100 * c.widthMm) / 100)).toEqual([0.2, 0.1, 0.05]);
    expect(cracks[1].point[2]).toBeCloseTo(5.25, 1);
    // the slit of 4 edges of 0.75 mm
    expect(cracks[1].lengthMm).toBeCloseTo(3, 1);
    expect(measure(mesh).volumeMm3 / measure(whole).volumeMm3).toBeCloseTo(1, 4);
  });

  it('leaves wider ones open', () => {
    const { topology, cracks } = mend(torn, 0.12);
    expect(cracks).toHaveLength(2);
    expect(topology.loops).toHaveLength(1);
  });

  it('leaves the ends of a vessel, which are wider than any crack', () => {
    const open = cracked(tube(N, 3, 30, 40), N, slits);
    const { topology } = mend(open, 0.3);
    expect(topology.loops.map((l) => Math.round(l.equivalentDiameterMm))).toEqual([6, 6]);
  });

  it('joins two patches along a gap all the way round, however their vertices are spaced', () => {
    const cut = cutThrough(whole, N, 20, 0.15);
    expect(buildTopology(cut).componentSizes).toHaveLength(2);
    const { topology, cracks, mesh } = mend(cut, 0.2);
    expect(topology.isWatertight).toBe(true);
    expect(topology.componentSizes).toHaveLength(1);
    expect(cracks).toHaveLength(1);
    expect(cracks[0].widthMm).toBeCloseTo(0.15, 2);
    expect(cracks[0].lengthMm).toBeCloseTo(2 * Math.PI * 3, 0);
    expect(measure(mesh).volumeMm3 / measure(whole).volumeMm3).toBeCloseTo(1, 3);
    expect(mend(cut, 0.1).cracks).toEqual([]);
    // rims of 48 and of 31 vertices: no vertex of one lies opposite a vertex of the other
    const other = moved(tube(31, 3, 10, 8), [0, 0, 20.1]);
    const uneven = mend(together(tube(N, 3, 20, 20), other), 0.2);
    expect(uneven.topology.loops).toHaveLength(2);
    expect(uneven.cracks).toHaveLength(1);
    expect(uneven.topology.nonManifoldEdges).toEqual([]);
  });

  it('closes a slit that runs out into an open end, and leaves that end open', () => {
    const open = tube(N, 3, 30, 40);
    const split = cracked(open, N, [{ ring: -1, column: 7, edges: 15, along: true, widthMm: 0.1 }]);
    expect(buildTopology(split).loops).toHaveLength(2);
    const { topology, cracks } = mend(split, 0.15);
    expect(cracks).toHaveLength(1);
    expect(topology.loops.map((l) => l.equivalentDiameterMm).every((d) => Math.abs(d - 6) < 0.1)).toBe(true);
    expect(topology.nonManifoldEdges).toEqual([]);
  });

  it('does not join two vessels that end side by side', () => {
    const pair = together(tube(N, 3, 30, 40), moved(tube(N, 3, 30, 40), [6.05, 0, 0]));
    expect(mend(pair, 0.3).cracks).toEqual([]);
  });

  it('closes a slit of zero width where a vertex lies on the opposite edge', () => {
    const grid = tube(N, 3, 10, 10);
    // the far half has only every second column
    const seam = mend(together(grid, moved(tube(N / 2, 3, 10, 10), [0, 0, 10])), 0.05);
    expect(seam.topology.loops).toHaveLength(2);
  });

  it('closes a hole of one triangle and of several', () => {
    const sphere = gridSphere(40, 5);
    const { topology, cracks } = mend(without(sphere, 600), 0.8);
    expect(topology.isWatertight).toBe(true);
    expect(cracks).toHaveLength(1);
    expect(mend(without(sphere, 600), 0.2).topology.loops).toHaveLength(1);
  });

  it('closes ten thousand in time proportional to their number', () => {
    const rings = 800;
    const long = tube(200, 3, 400, rings);
    const holes = new Set<number>();
    for (let ring = 2; ring < rings - 2; ring += 4)
      for (let column = 0; column < 200; column += 4) holes.add(2 * (ring * 200 + column));
    const kept = long.triangles.filter((_, i) => !holes.has((i / 3) | 0));
    const mesh = weld(soupOf({ positions: long.positions, triangles: kept })).mesh;
    const topology = buildTopology(mesh);
    expect(topology.loops.length).toBeGreaterThan(9_000);
    const start = performance.now();
    const { cracks } = mendCracks(mesh, topology, 0.5);
    expect(cracks.length).toBe(topology.loops.length - 2);
    expect(performance.now() - start).toBeLessThan(10_000);
  });
});
