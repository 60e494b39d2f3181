import { describe, expect, it } from 'vitest';
import { type LoadedSurface, prepareSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { lumenOf, wallOf } from '../../src/mesh/wall.js';
import { cylinder, gridSphere, moved, over, ringVessel, roundedWall, together, tubeWall } from './shapes.js';

const load = (mesh: TriangleMesh): LoadedSurface =>
  prepareSurface(
    { format: 'stl-binary', objects: [{ name: 'x', mesh }], unitMm: 1, notes: [] },
    { label: 'A1', shown: 'a.stl', checkSelfIntersection: false },
  );
describe('a wall instead of a lumen', () => {
  it.each([
    [4, 3],
    [4, 2],
    [3, 2.7],
  ])('radius %f outside and %f inside: both faces and the thickness', (outer, inner) => {
    const surface = load(tubeWall(48, outer, inner, 30));
    expect(surface.topology.isWatertight).toBe(true);
    const wall = wallOf(surface)!;
    expect(Math.abs(wall.thicknessMm - (outer - inner))).toBeLessThan(0.05);
    const ends = (mesh: TriangleMesh): number[] =>
      buildTopology(mesh).loops.map((loop) => Math.round(10 * loop.equivalentDiameterMm) / 10);
    expect(ends(wall.faces!.lumen)).toEqual([2 * inner, 2 * inner]);
    expect(ends(wall.faces!.outside)).toEqual([2 * outer, 2 * outer]);
  });

  it.each([
    [4, 3, 30],
    [3, 2.4, 40],
    [5, 3.8, 60],
  ])(
    'with rounded rims, radius %f outside and %f inside, %f mm long: recognised, and never measured as it is',
    (outer, inner, length) => {
      const surface = load(roundedWall(48, outer, inner, length));
      expect(surface.topology.isWatertight).toBe(true);
      expect(Math.abs(wallOf(surface)!.thicknessMm - (outer - inner))).toBeLessThan(0.05);
      const { lumen, isUnclear } = lumenOf(surface, 'A1');
      expect(isUnclear).toBe(true);
      expect(lumen.findings.filter(({ id }) => id === 'wall-not-lumen').map(({ level }) => level)).toEqual([
        'stop',
      ]);
    },
  );

  it('of a sac, closed all round', () => {
    const wall = wallOf(load(together(gridSphere(60, 10), over(gridSphere(60, 9)))))!;
    expect(wall.thicknessMm).toBeCloseTo(1, 1);
    expect(wall.faces).toBeDefined();
  });

  it('is not found in a lumen, a lumen with a noise cavity, two vessels side by side or a ring', () => {
    expect(wallOf(load(cylinder(48, 3, 30)))).toBeUndefined();
    expect(
      wallOf(load(together(cylinder(48, 3, 30), over(moved(gridSphere(12, 0.8), [0, 0, 15]))))),
    ).toBeUndefined();
    expect(
      wallOf(load(together(cylinder(48, 3, 30), moved(cylinder(48, 3, 30), [7, 0, 0])))),
    ).toBeUndefined();
    // a 6 mm vessel along a ring, walls 1 mm or 8 mm apart across its hole
    for (const across of [1, 8]) expect(wallOf(load(ringVessel(48, 3, 3 + across / 2)))).toBeUndefined();
  });
});
