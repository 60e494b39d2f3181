import { describe, expect, it } from 'vitest';
import { type Cells, cellAt, cellNear, middleOf } from '../../src/grid/cells.js';
import { cheapestWays, wayFrom } from '../../src/grid/cheapest-ways.js';
import { depthsMm } from '../../src/grid/depth.js';
import { fillCells, leastStepMm } from '../../src/grid/fill.js';
import { lineCurve } from '../../src/phantoms/curve.js';
import { randomStream } from '../../src/phantoms/random.js';
import { moveMesh, seededMotion } from '../../src/phantoms/rigid.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { roundTube, sweptTube } from '../../src/phantoms/tube.js';

/** Cells of a grid by a rule, for bodies not bounded by a surface. */
function cellsWhere(
  size: [number, number, number],
  holds: (x: number, y: number, z: number) => boolean,
): Cells {
  const [nx, ny, nz] = size;
  const bits = new Uint32Array(Math.ceil((nx * ny * nz) / 32) + 1);
  const places: number[] = [];
  for (let x = 1; x < nx - 1; x++)
    for (let y = 1; y < ny - 1; y++)
      for (let z = 1; z < nz - 1; z++) if (holds(x, y, z)) places.push((x * ny + y) * nz + z);
  for (const place of places) bits[place >>> 5] |= 1 << (place & 31);
  const before = new Uint32Array(bits.length);
  let n = 0;
  for (let word = 0; word < bits.length; word++) {
    before[word] = n;
    n += places.filter((place) => place >>> 5 === word).length;
  }
  return {
    originMm: [0, 0, 0],
    stepMm: 1,
    size,
    count: places.length,
    placeOf: Uint32Array.from(places),
    bits,
    before,
  };
}

const random = randomStream(7);
const BLOB = cellsWhere(
  [14, 13, 12],
  (x, y, z) => Math.hypot(x - 6, y - 6, z - 6) < 5 && random.whole(0, 9) > 0,
);

describe('cells of a grid', () => {
  it('each position has its own number, in order, and none outside', () => {
    BLOB.placeOf.forEach((place, cell) => {
      expect(cellAt(BLOB, place)).toBe(cell);
    });
    const held = new Set(BLOB.placeOf);
    for (let place = 0; place < 14 * 13 * 12; place++)
      if (!held.has(place)) expect(cellAt(BLOB, place)).toBe(-1);
    expect(cellNear(BLOB, middleOf(BLOB, 5), 0)).toBe(5);
    expect(cellNear(BLOB, [0, 0, 0], 1)).toBe(-1);
  });

  it('a ball and a rotated tube keep their volume, wherever they are', () => {
    const tube = sweptTube(
      roundTube(lineCurve([0, 0, 0], [0, 0, 30]), () => 5),
      { around: 64, areaTrue: true },
    );
    const ball = sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [6, 6, 6] }, 24);
    for (const seed of [1, 2, 3])
      for (const [mesh, volume] of [
        [tube, (Math.PI / 4) * 25 * 30],
        [ball, (4 / 3) * Math.PI * 216],
      ] as const) {
        const moved = moveMesh(seededMotion(seed, 50), mesh);
        const { count, stepMm } = fillCells(moved.positions, moved.triangles, 0.4);
        expect(Math.abs((count * stepMm ** 3) / volume - 1)).toBeLessThan(0.01);
      }
  });

  it('corners and edges on the rays, and pieces that overlap, are filled once', () => {
    // a box on whole numbers, and the same again half inside it
    const corners = (dx: number): number[] =>
      Array.from({ length: 8 }, (_, i) => [dx + (i & 1 ? 8 : 0), i & 2 ? 8 : 0, i & 4 ? 8 : 0]).flat();
    const faces = [
      [0, 2, 1, 1, 2, 3],
      [4, 5, 6, 5, 7, 6],
      [0, 1, 4, 1, 5, 4],
      [2, 6, 3, 3, 6, 7],
      [0, 4, 2, 2, 4, 6],
      [1, 3, 5, 3, 7, 5],
    ].flat();
    const positions = Float64Array.from([...corners(0), ...corners(4)]);
    const triangles = Uint32Array.from([...faces, ...faces.map((v) => v + 8)]);
    for (const step of [0.5, 1, 0.37]) {
      const { count } = fillCells(positions, triangles, step);
      expect(Math.abs(count * step ** 3 - 12 * 64) / (12 * 64)).toBeLessThan(0.25 * step);
    }
  });

  it('a box of any size has a step that its grid can use', () => {
    expect(leastStepMm([300, 300, 300])).toBeLessThan(0.5);
    expect(leastStepMm([1, 1, 1e6])).toBeGreaterThan(0);
  });
});

describe('depths', () => {
  it('are the distances to the nearest position outside, by testing them all', () => {
    const depths = depthsMm(BLOB);
    const held = new Set(BLOB.placeOf);
    const outside: number[][] = [];
    for (let x = 0; x < 14; x++)
      for (let y = 0; y < 13; y++)
        for (let z = 0; z < 12; z++) if (!held.has((x * 13 + y) * 12 + z)) outside.push([x, y, z]);
    for (let cell = 0; cell < BLOB.count; cell++) {
      const p = middleOf(BLOB, cell);
      const least = Math.min(...outside.map((q) => Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2])));
      expect(depths[cell]).toBeCloseTo(least - 0.5, 5);
    }
  });
});

describe('cheapest paths', () => {
  it('cost the same as relaxing every step repeatedly (Bellman and Ford)', () => {
    const cost = (cell: number): number => 1 + ((cell * 7919) % 13);
    const ways = cheapestWays(BLOB, 3, [BLOB.count - 1], cost);
    const spent = new Float64Array(BLOB.count).fill(Number.POSITIVE_INFINITY);
    spent[3] = 0;
    const stepCost = (a: number, b: number): number => {
      const [p, q] = [middleOf(BLOB, a), middleOf(BLOB, b)];
      return (Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]) * (cost(a) + cost(b))) / 2;
    };
    const neighbours = Array.from({ length: BLOB.count }, (_, a) => {
      const p = middleOf(BLOB, a);
      return Array.from({ length: 27 }, (_, k) =>
        cellNear(
          BLOB,
          [p[0] + (k % 3) - 1, p[1] + (Math.floor(k / 3) % 3) - 1, p[2] + Math.floor(k / 9) - 1],
          0,
        ),
      ).filter((b) => b >= 0 && b !== a);
    });
    for (let changed = true; changed; ) {
      changed = false;
      for (let a = 0; a < BLOB.count; a++)
        for (const b of neighbours[a]) {
          const c = spent[a] + stepCost(a, b);
          if (c < spent[b] - 1e-12) {
            spent[b] = c;
            changed = true;
          }
        }
    }
    const way = wayFrom(ways, BLOB.count - 1)!;
    const total = way.slice(1).reduce((sum, cell, i) => sum + stepCost(way[i], cell), 0);
    expect(total).toBeCloseTo(spent[BLOB.count - 1], 9);
    expect(way[way.length - 1]).toBe(3);
  });

  it('lead to nothing that is not connected', () => {
    const two = cellsWhere([12, 5, 5], (x) => x < 4 || x > 6);
    expect(
      wayFrom(
        cheapestWays(two, 0, [two.count - 1], () => 1),
        two.count - 1,
      ),
    ).toBeUndefined();
  });
});
