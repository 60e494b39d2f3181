import { describe, expect, it, vi } from 'vitest';
import { buildTopology, pinchedVertices } from '../../src/mesh/topology.js';
import {
  box,
  cylinder,
  gridSphere,
  meshOf,
  tetrahedron,
  together,
  tube,
  turnedOver,
  without,
} from './shapes.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

describe('half-edge topology', () => {
  it('pairs every half-edge of a closed box with the one running the other way', () => {
    const m = box(2, 3, 4);
    const topology = buildTopology(m);
    expect(topology.isWatertight).toBe(true);
    expect(topology.edgeCount).toBe(18); // Euler: 8 - 18 + 12 = 2
    const end = (h: number): number => m.triangles[h % 3 === 2 ? h - 2 : h + 1];
    for (let h = 0; h < 36; h++) {
      const t = topology.twin[h];
      expect(topology.twin[t]).toBe(h);
      expect([m.triangles[t], end(t)]).toEqual([end(h), m.triangles[h]]);
    }
  });

  it('finds both ends of a tube with the centre, size and outward direction of the polygon', () => {
    const n = 24;
    const topology = buildTopology(tube(n, 3, 10));
    expect(topology.loops).toHaveLength(2);
    const [bottom, top] = topology.loops[0].centroid[2] < 5 ? topology.loops : [...topology.loops].reverse();
    const area = (n * 9 * Math.sin((2 * Math.PI) / n)) / 2;
    for (const [loop, z, direction] of [
      [bottom, 0, -1],
      [top, 10, 1],
    ] as const) {
      expect(loop.closed).toBe(true);
      expect(loop.vertices).toHaveLength(n);
      expect(loop.centroid[0]).toBeCloseTo(0, 10);
      expect(loop.centroid[1]).toBeCloseTo(0, 10);
      expect(loop.centroid[2]).toBeCloseTo(z, 10);
      expect(loop.normal[2]).toBeCloseTo(direction, 10);
      expect(loop.planarityMm).toBeLessThan(1e-12);
      expect(loop.perimeterMm).toBeCloseTo(2 * n * 3 * Math.sin(Math.PI / n), 10);
      expect(loop.equivalentDiameterMm).toBeCloseTo(2 * Math.sqrt(area / Math.PI), 10);
    }
  });

  it('uses the centroid of the area, not of the vertices, of an unevenly sampled loop', () => {
    const topology = buildTopology(without(box(2, 2, 2), 2, 3));
    expect(topology.loops[0].centroid).toEqual([1, 1, 2]);
    // a square with three extra points on one side, as one fan
    const fan = meshOf(
      [
        [0, 0, 0],
        [1, 0, 0],
        [1, 1, 0],
        [0, 1, 0],
        [0, 0.9, 0],
        [0, 0.8, 0],
        [0, 0.7, 0],
      ],
      [
        [1, 2, 3],
        [1, 3, 4],
        [1, 4, 5],
        [1, 5, 6],
        [1, 6, 0],
      ],
    );
    const [loop] = buildTopology(fan).loops;
    expect(loop.centroid[0]).toBeCloseTo(0.5, 12);
    expect(loop.centroid[1]).toBeCloseTo(0.5, 12);
  });

  it('keeps two openings apart that touch in one vertex', () => {
    const m = gridSphere(16, 5);
    const corners = (t: number): number[] => [...m.triangles.slice(3 * t, 3 * t + 3)];
    const touching = Array.from({ length: 200 }, (_, t) => t).find(
      (t) => corners(t).filter((v) => corners(100).includes(v)).length === 1,
    );
    const topology = buildTopology(without(m, 100, touching ?? -1));
    expect(topology.loops.map((l) => l.vertices.length)).toEqual([3, 3]);
    expect(topology.loops.every((l) => l.closed)).toBe(true);
  });

  it('reports an edge shared by three triangles with its vertices, and not as an opening', () => {
    const m = together(box(1, 1, 1), meshOf([[2, 0, 1]], []));
    const fin = { ...m, triangles: Uint32Array.from([...m.triangles, 4, 5, 8]) };
    const topology = buildTopology(fin);
    expect(topology.nonManifoldEdges).toEqual([4, 5]);
    expect(topology.isWatertight).toBe(false);
    expect(topology.twin.filter((h) => h === -2)).toHaveLength(3);
  });

  it('reports a flipped triangle by its three inconsistent edges', () => {
    const topology = buildTopology(turnedOver(box(1, 1, 1), 5));
    expect(topology.inconsistentEdges).toHaveLength(6);
    expect(topology.isWatertight).toBe(false);
  });

  it('numbers components by their first triangle', () => {
    const topology = buildTopology(together(box(1, 1, 1), tetrahedron(1), box(2, 2, 2)));
    expect([...topology.componentSizes]).toEqual([12, 4, 12]);
    expect(topology.component[13]).toBe(1);
  });

  it('finds flat triangles and triangles with a repeated vertex', () => {
    const m = meshOf(
      [
        [0, 0, 0],
        [1, 0, 0],
        [2, 0, 0],
        [0, 1, 0],
      ],
      [
        [0, 1, 2],
        [0, 1, 3],
        [1, 1, 3],
      ],
    );
    expect(buildTopology(m).degenerateTriangles).toEqual([0, 2]);
  });

  it('finds the vertex where two bodies touch, and none on clean or open bodies', () => {
    const two = together(tetrahedron(1), tetrahedron(1));
    const joined = { ...two, triangles: two.triangles.map((v) => (v === 4 ? 0 : v)) };
    expect(pinchedVertices(joined, buildTopology(joined))).toEqual([0]);
    for (const m of [box(1, 1, 1), tube(8, 1, 3), cylinder(8, 1, 3)]) {
      expect(pinchedVertices(m, buildTopology(m))).toEqual([]);
    }
  });

  it('takes linear time where one vertex carries all triangles', () => {
    const n = 200_000;
    const m = cylinder(n, 1, 1, 1);
    const started = performance.now();
    expect(buildTopology(m).isWatertight).toBe(true);
    expect(performance.now() - started).toBeLessThan(20_000);
  });

  it('accepts an empty mesh', () => {
    const topology = buildTopology(meshOf([], []));
    expect(topology.isWatertight).toBe(false);
    expect(topology.componentSizes).toHaveLength(0);
  });

  it('handles a million triangles in well under two seconds', () => {
    const m = gridSphere(1000, 20);
    const started = performance.now();
    const topology = buildTopology(m);
    const ms = performance.now() - started;
    expect(m.positions.length / 3 - topology.edgeCount + m.triangles.length / 3).toBe(2);
    expect(ms).toBeLessThan(2000);
    console.info(`topology of ${m.triangles.length / 3} triangles: ${ms.toFixed(0)} ms`);
  });
});
