import { describe, expect, it } from 'vitest';
import { measure } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { type LoadedSurface, prepareSurface } from '../../src/mesh/load-surface.js';
import { largestPiece, withoutSmallPieces } from '../../src/mesh/pieces.js';
import { box, gridSphere, moved, over, together, tube } from './shapes.js';

const load = (mesh: TriangleMesh): LoadedSurface =>
  prepareSurface(
    { format: 'stl-binary', objects: [{ name: 'x', mesh }], unitMm: 1, notes: [] },
    { label: 'sac', shown: 'sac.stl', checkSelfIntersection: false },
  );

/** Cubes of edge 1 mm in a lattice next to the origin. */
const islands = (count: number): TriangleMesh => {
  const side = Math.ceil(Math.cbrt(count));
  return together(
    ...Array.from({ length: count }, (_, i) =>
      box(1, 1, 1, [40 + 2 * (i % side), 2 * (Math.floor(i / side) % side), 2 * Math.floor(i / side / side)]),
    ),
  );
};

describe('the largest piece of a surface', () => {
  const options = { label: 'sac', stopShare: 0.1 };
  const ball = gridSphere(40, 10);

  it('is kept alone; the others are counted in one finding', () => {
    const surface = load(together(islands(40), ball));
    const { surface: single, isBroken } = largestPiece(surface, options);
    expect(isBroken).toBe(false);
    expect(measure(single.mesh).volumeMm3).toBeCloseTo(measure(ball).volumeMm3, 9);
    expect(single.topology.componentSizes).toHaveLength(1);
    expect(single.findings.map((f) => `${f.level} ${f.id}`)).toEqual(['caution loose-pieces']);
    expect(single.findings[0].text).toContain(
      '40 other pieces of together 40.00 mm3 were left out, the largest of 1.00 mm3',
    );
    // a cube measures 1 mm3 to within the last bit
    expect(single.findings[0].text).toMatch(/"drop_below: [12] mm3"/);
  });

  it('gives a note where the others are specks with hardly any volume', () => {
    const specks = [0, 1].map((i) => box(0.1, 0.1, 0.1, [40 + i, 0, 0]));
    const { surface } = largestPiece(load(together(ball, ...specks)), options);
    expect(surface.findings.map((f) => `${f.level} ${f.id}`)).toEqual(['note loose-pieces']);
    expect(surface.findings[0].text).toContain(
      '2 specks below 0.005 mm3 were left out. Only it was measured.',
    );
    const { surface: other } = largestPiece(load(together(ball, box(0.2, 0.2, 0.2, [40, 0, 0]))), options);
    expect(other.findings.map(({ level }) => level)).toEqual(['caution']);
  });

  it('gives a note where the case states from what volume pieces count', () => {
    const { surface } = largestPiece(load(together(ball, islands(5), box(3, 3, 3, [-40, 0, 0]))), {
      ...options,
      dropBelowMm3: 2,
    });
    expect(surface.findings.map((f) => f.level)).toEqual(['caution']);
    expect(surface.findings[0].text).toContain(
      'One other piece of 27.00 mm3 (0.6 %) at (-40.00, 0.00, 0.00) mm',
    );
    expect(surface.findings[0].text).toContain(
      '5 pieces below 2 mm3 (surfaces.drop_below) were left out, 5.00 mm3',
    );
    const all = largestPiece(load(together(ball, islands(5))), { ...options, dropBelowMm3: 2 });
    expect(all.surface.findings.map((f) => f.level)).toEqual(['note']);
  });

  it.each([
    [0.101, true],
    [0.099, false],
  ])('with %f of the volume elsewhere is broken: %s', (share, expected) => {
    const volume = measure(ball).volumeMm3;
    const edge = Math.cbrt((share / (1 - share)) * volume);
    const { isBroken, surface } = largestPiece(
      load(together(ball, box(edge, edge, edge, [40, 0, 0]))),
      options,
    );
    expect(isBroken).toBe(expected);
    expect(surface.findings[0].level).toBe(expected ? 'stop' : 'caution');
  });

  it('keeps its own cavities and no others', () => {
    const hollow = together(
      box(30, 30, 30),
      over(box(2, 2, 2, [4, 4, 4])),
      over(box(1, 1, 1, [20, 20, 20])),
      moved(together(box(9, 9, 9), over(box(2, 2, 2, [4, 4, 4]))), [50, 0, 0]),
    );
    const { surface } = largestPiece(load(hollow), options);
    expect(measure(surface.mesh).volumeMm3).toBeCloseTo(27000 - 8 - 1, 6);
    expect(surface.cavities).toHaveLength(2);
  });

  it('drops the open ends of what it left out', () => {
    const { surface } = largestPiece(load(together(ball, moved(tube(12, 1, 3), [30, 0, 0]))), options);
    expect(surface.findings.map((f) => f.id)).toEqual(['loose-pieces']);
    expect(surface.topology.loops).toEqual([]);
  });

  it('of a structure without a centreline: only the small pieces are dropped', () => {
    const kept = withoutSmallPieces(load(together(ball, islands(7), box(3, 3, 3, [-40, 0, 0]))), 'lobe', 2);
    expect(kept.topology.componentSizes).toHaveLength(2);
    expect(kept.findings.map((f) => f.id)).toEqual(['several-components', 'loose-pieces']);
  });

  it('is found among thousands of pieces and cavities', () => {
    const side = 18;
    const at = (i: number): number[] => [
      2 + 2 * (i % side),
      2 + 2 * (Math.floor(i / side) % side),
      2 + 2 * Math.floor(i / side / side),
    ];
    const cavities = Array.from({ length: side ** 3 }, (_, i) => over(box(1, 1, 1, at(i))));
    const surface = load(together(box(40, 40, 40), ...cavities, moved(islands(side ** 3), [20, 0, 0])));
    expect(surface.cavities).toHaveLength(side ** 3);
    const start = performance.now();
    const { surface: single } = largestPiece(surface, options);
    expect(performance.now() - start).toBeLessThan(5000);
    expect(measure(single.mesh).volumeMm3).toBeCloseTo(64000 - side ** 3, 3);
  });
});
