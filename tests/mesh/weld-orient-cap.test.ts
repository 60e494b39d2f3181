import fc from 'fast-check';
import { describe, expect, it, vi } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { capPlanarLoops } from '../../src/mesh/cap.js';
import { pairEdges } from '../../src/mesh/edge-pairing.js';
import { measure } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { orient } from '../../src/mesh/orient.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { triangulatePolygon } from '../../src/mesh/triangulate-polygon.js';
import { weld, withoutCopies } from '../../src/mesh/weld.js';
import {
  box,
  cylinder,
  gridSphere,
  meshOf,
  moved,
  soupOf,
  tetrahedron,
  together,
  tube,
  turnedOver,
  without,
} from './shapes.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

const SEED = 20260314;

describe('measures against closed forms of the polygonal shape', () => {
  const n = 48;
  const section = (n * 9 * Math.sin((2 * Math.PI) / n)) / 2;
  const cases: [string, TriangleMesh, number, number][] = [
    ['box 2 x 3 x 4', box(2, 3, 4), 24, 52],
    ['regular tetrahedron of edge 5', tetrahedron(5), 125 / (6 * Math.SQRT2), Math.sqrt(3) * 25],
    [
      '48-sided prism',
      cylinder(n, 3, 10),
      section * 10,
      2 * section + 2 * n * 3 * Math.sin(Math.PI / n) * 10,
    ],
  ];
  it.each(cases)('%s', (_, mesh, volume, area) => {
    expect(measure(mesh).volumeMm3).toBeCloseTo(volume, 9);
    expect(measure(mesh).areaMm2).toBeCloseTo(area, 9);
  });
  it('keeps its digits 10 m from the origin', () => {
    const far = measure(moved(tetrahedron(5), [10_000, -10_000, 10_000]));
    expect(far.volumeMm3).toBeCloseTo(125 / (6 * Math.SQRT2), 7);
  });
});

describe('weld', () => {
  it('joins the triangle soup of a sphere into its original vertices', () => {
    const m = gridSphere(64, 10);
    const result = weld(soupOf(m));
    expect(result.mesh.positions.length).toBe(m.positions.length);
    expect(buildTopology(result.mesh).isWatertight).toBe(true);
    expect(measure(result.mesh).volumeMm3).toBeCloseTo(measure(m).volumeMm3, 9);
  });
  it('treats 0 and -0 as equal', () => {
    const m = meshOf(
      [
        [0, 0, 0],
        [1, 0, 0],
        [0, 1, 0],
        [-0, 0, -0],
        [0, -1, 0],
        [1, 0, -0],
      ],
      [
        [0, 1, 2],
        [3, 4, 5],
      ],
    );
    expect(weld(m).mesh.positions).toHaveLength(12);
  });
  it('exact mode separates points that differ in the last bit; tolerance mode joins them', () => {
    const m = meshOf(
      [
        [0, 0, 0],
        [1, 0, 0],
        [0, 1, 0],
        [1 + 2 ** -23, 0, 0],
        [1, 1, 0],
        [0, 1, 0],
      ],
      [
        [0, 1, 2],
        [3, 4, 5],
      ],
    );
    expect(weld(m).mesh.positions.length / 3).toBe(5);
    expect(weld(m, 1e-6).mesh.positions.length / 3).toBe(4);
  });
  it('lists collapsed and duplicate triangles and drops unused vertices', () => {
    const m = meshOf(
      [
        [9, 9, 9],
        [0, 0, 0],
        [1, 0, 0],
        [0, 1, 0],
        [0, 1, 0],
      ],
      [
        [1, 2, 3],
        [1, 3, 4],
        [3, 2, 1],
        [2, 3, 1],
      ],
    );
    const result = weld(m);
    expect(result.collapsedTriangles).toEqual([1]);
    expect(result.duplicateTriangles).toEqual([2, 3]);
    expect(result.mesh.positions).toHaveLength(9);
  });
  it(`finds the same duplicates where the vertices already differ (seed ${SEED})`, () => {
    const corner = fc.integer({ min: 0, max: 6 });
    fc.assert(
      fc.property(fc.array(fc.tuple(corner, corner, corner), { minLength: 1, maxLength: 12 }), (rows) => {
        // every vertex is used, as the readers give them
        const all = [...rows, [0, 1, 2], [3, 4, 5], [4, 5, 6]];
        const points = Array.from({ length: 7 }, (_, i) => [i, i * i, i ** 3]);
        const mesh = meshOf(points as Vec3[], all as Vec3[]);
        const { pairing, ...found } = withoutCopies(mesh);
        const flat = all.flatMap((row, t) => (new Set(row).size < 3 ? [t] : []));
        const sets = all.map((row) => row.toSorted().join());
        const copies = sets.flatMap((set, t) => (!flat.includes(t) && sets.indexOf(set) < t ? [t] : []));
        expect(found.collapsedTriangles).toEqual(flat);
        expect(found.duplicateTriangles).toEqual(copies);
        const kept = all.filter((_, t) => !flat.includes(t) && !copies.includes(t));
        expect([...found.mesh.triangles]).toEqual(kept.flat());
        const { mesh: welded, pairing: pairingOfWelded, ...ofWelded } = weld(mesh);
        expect(found).toMatchObject(ofWelded);
        expect(welded.triangles.length).toBe(found.mesh.triangles.length);
        expect(pairingOfWelded === undefined).toBe(pairing === undefined);
        if (pairingOfWelded) expect(pairingOfWelded).toEqual(pairEdges(welded));
        const hasNone = flat.length + copies.length === 0;
        if (pairing) expect(hasNone).toBe(true);
        if (pairing) expect(pairing).toEqual(pairEdges(found.mesh));
      }),
      { numRuns: 3000, seed: SEED },
    );
  });
  it('returns the pairing even where there are no copies', () => {
    expect(withoutCopies(weld(gridSphere(8, 1)).mesh).pairing).toBeDefined();
  });
  it(`never misses a neighbour across grid cells (seed ${SEED})`, () => {
    const coordinate = fc.double({ min: -50, max: 50, noNaN: true });
    const shift = fc.double({ min: -0.57, max: 0.57, noNaN: true }); // within tolerance: 0.57·√3 < 1
    fc.assert(
      fc.property(
        fc.array(fc.tuple(coordinate, coordinate, coordinate, shift, shift, shift), { minLength: 1 }),
        (rows) => {
          for (const [x, y, z, a, b, c] of rows) {
            const pair = meshOf(
              [
                [x, y, z],
                [x + a, y + b, z + c],
                [x + 10, y, z],
              ],
              [[0, 1, 2]],
            );
            expect(weld(pair, 1).collapsedTriangles).toEqual([0]);
          }
        },
      ),
      { seed: SEED, numRuns: 200 },
    );
  });
  it('does not hang on coordinates beyond the grid', () => {
    const m = meshOf(
      [
        [3e38, 0, 0],
        [-3e38, 3e38, 0],
        [0, 0, 3e38],
      ],
      [[0, 1, 2]],
    );
    expect(weld(m, 1e-6).mesh.triangles).toHaveLength(3);
  });
});

describe('orient', () => {
  it('flips single triangles back and says which', () => {
    const m = turnedOver(box(2, 3, 4), 3, 7);
    const result = orient(m, buildTopology(m));
    expect(result.disagreeingTriangles).toEqual([3, 7]);
    expect(result.turnedComponents).toEqual([]);
    expect(measure(result.mesh).volumeMm3).toBeCloseTo(24, 10);
    expect(buildTopology(result.mesh).isWatertight).toBe(true);
  });
  it('flips a body that is inside out, whichever triangle comes first', () => {
    const m = turnedOver(box(2, 3, 4), 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10);
    const result = orient(m, buildTopology(m));
    expect(result.turnedComponents).toEqual([0]);
    expect(result.disagreeingTriangles).toEqual([11]);
    expect(measure(result.mesh).volumeMm3).toBeCloseTo(24, 10);
  });
  it('orients an open tube outwards although it has no volume of its own', () => {
    const m = tube(16, 2, 9);
    const inverted = turnedOver(
      moved(m, [50, 20, -30]),
      ...Array.from({ length: m.triangles.length / 3 }, (_, t) => t),
    );
    const result = orient(inverted, buildTopology(inverted));
    expect(result.turnedComponents).toEqual([0]);
    expect(result.componentVolumesMm3[0]).toBeCloseTo((16 * 4 * Math.sin(Math.PI / 8) * 9) / 2, 8);
  });
  it('keeps the inner wall of a hollow body as its cavity and flips a body that stands alone', () => {
    const all = Array.from({ length: 12 }, (_, t) => t);
    const hollow = together(box(10, 10, 10), turnedOver(box(2, 2, 2, [4, 4, 4]), ...all));
    const kept = orient(hollow, buildTopology(hollow));
    expect(kept.cavities).toEqual([1]);
    expect(measure(kept.mesh).volumeMm3).toBeCloseTo(1000 - 8, 9);
    const apart = together(box(10, 10, 10), turnedOver(box(2, 2, 2, [14, 4, 4]), ...all));
    const turned = orient(apart, buildTopology(apart));
    expect(turned.cavities).toEqual([]);
    expect(turned.turnedComponents).toEqual([1]);
    expect(measure(turned.mesh).volumeMm3).toBeCloseTo(1008, 9);
  });
  it('lists the edges of a one-sided band', () => {
    // five-triangle Möbius band: triangles (i, i+1, i+2) modulo 5
    const points = Array.from({ length: 5 }, (_, i) => [
      Math.cos(i * 1.2566),
      Math.sin(i * 1.2566),
      (i * i) % 3,
    ]);
    const band = meshOf(
      points,
      [0, 1, 2, 3, 4].map((i) => [i, (i + 1) % 5, (i + 2) % 5]),
    );
    expect(orient(band, buildTopology(band)).oneSidedEdges.length).toBeGreaterThan(0);
  });
});

describe('capPlanarLoops', () => {
  it('closes both ends of a tube into the exact prism and lists the cap triangles', () => {
    const n = 20;
    const m = tube(n, 3, 10);
    const { mesh, caps, refused } = capPlanarLoops(m, buildTopology(m).loops, { planarityFraction: 0.05 });
    expect(refused).toEqual([]);
    expect(caps).toHaveLength(2);
    expect(buildTopology(mesh).isWatertight).toBe(true);
    const section = (n * 9 * Math.sin((2 * Math.PI) / n)) / 2;
    expect(measure(mesh).volumeMm3).toBeCloseTo(section * 10, 9);
    for (const { from, to } of caps) {
      const only = Array.from({ length: to - from }, (_, i) => from + i);
      expect(measure(mesh, only).areaMm2).toBeCloseTo(section, 9);
    }
    expect(mesh.triangles.slice(0, m.triangles.length)).toEqual(m.triangles);
  });
  it('clips the ears of an opening that is not star-shaped and keeps corners on straight sides', () => {
    // a U-shaped opening with extra corners on its straight sides, extruded by 2
    const outline = [
      [0, 0],
      [2, 0],
      [4, 0],
      [6, 0],
      [6, 3],
      [6, 6],
      [5, 6],
      [5, 3],
      [5, 1],
      [3, 1],
      [1, 1],
      [1, 6],
      [0, 6],
      [0, 3],
    ];
    const n = outline.length;
    const wall = outline.flatMap((_, i) => {
      const j = (i + 1) % n;
      return [
        [i, j, i + n],
        [j, j + n, i + n],
      ];
    });
    const m = meshOf([...outline.map(([x, y]) => [x, y, 0]), ...outline.map(([x, y]) => [x, y, 2])], wall);
    const { mesh, caps } = capPlanarLoops(m, buildTopology(m).loops, { planarityFraction: 0.05 });
    expect(caps).toHaveLength(2);
    expect(mesh.positions.length).toBe(m.positions.length);
    expect(buildTopology(mesh).isWatertight).toBe(true);
    expect(measure(mesh).volumeMm3).toBeCloseTo((36 - 20) * 2, 10);
  });
  it('refuses an end just beyond the planarity limit and accepts one just within it', () => {
    const m = tube(12, 3, 10);
    const bent = { ...m, positions: m.positions.map((x, i) => (i === 3 * 48 + 2 ? x + 0.5 : x)) };
    const { loops } = buildTopology(bent);
    const ratio = Math.max(...loops.map((l) => l.planarityMm / l.equivalentDiameterMm));
    expect(capPlanarLoops(bent, loops, { planarityFraction: ratio * 0.999 }).refused).toHaveLength(1);
    expect(capPlanarLoops(bent, loops, { planarityFraction: ratio * (1 + 1e-12) }).refused).toHaveLength(0);
  });
  it('follows the orientation of the wall even on a body turned inside out', () => {
    const m = tube(12, 3, 10);
    const inverted = turnedOver(m, ...Array.from({ length: m.triangles.length / 3 }, (_, t) => t));
    const { mesh } = capPlanarLoops(inverted, buildTopology(inverted).loops, { planarityFraction: 0.05 });
    expect(buildTopology(mesh).isWatertight).toBe(true);
    expect(measure(mesh).volumeMm3).toBeLessThan(0);
  });
  it('caps a box whose side was removed', () => {
    const m = without(box(2, 3, 4), 8, 9);
    const { mesh } = capPlanarLoops(m, buildTopology(m).loops, { planarityFraction: 0.01 });
    expect(measure(mesh).volumeMm3).toBeCloseTo(24, 10);
  });
});

describe('triangulatePolygon', () => {
  it('refuses an outline that crosses itself', () => {
    expect(triangulatePolygon(Float64Array.from([0, 0, 2, 2, 2, 0, 0, 2, -1, 1, 3, 1]))).toBeUndefined();
  });
  it(`triangulates star outlines into n - 2 triangles of the same area, using every corner (seed ${SEED})`, () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0.2, max: 5, noNaN: true }), { minLength: 3, maxLength: 60 }),
        (radii) => {
          const flat = Float64Array.from(
            radii.flatMap((r, i) => {
              const w = (2 * Math.PI * i) / radii.length;
              return [r * Math.cos(w), r * Math.sin(w)];
            }),
          );
          const cross = (a: number, b: number): number =>
            flat[2 * a] * flat[2 * b + 1] - flat[2 * a + 1] * flat[2 * b];
          const area = radii.reduce((sum, _, i) => sum + cross(i, (i + 1) % radii.length), 0);
          const faces = triangulatePolygon(flat);
          if (!faces) throw new Error('refused');
          expect(faces).toHaveLength(3 * (radii.length - 2));
          expect(new Set(faces).size).toBe(radii.length);
          let sum = 0;
          for (let i = 0; i < faces.length; i += 3) {
            const [a, b, c] = faces.slice(i, i + 3);
            const part = cross(a, b) + cross(b, c) + cross(c, a);
            expect(part).toBeGreaterThan(0);
            sum += part;
          }
          expect(sum).toBeCloseTo(area, 8);
        },
      ),
      { seed: SEED, numRuns: 300 },
    );
  });
});
