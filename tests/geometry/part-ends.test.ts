import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { measureParts, type PartSurface } from '../../src/geometry/measure-parts.js';
import { polygonise } from '../../src/phantoms/implicit.js';
import { gridSphere, moved } from '../mesh/shapes.js';
import { DEFINITIONS, NO_SCAN } from './make.js';

/**
 * A feeder of 6 mm along x from 0 to 44 mm, and on its surface a 3 mm branch that leaves at 20 mm along y, this far from its
 * axis.
 */
const feeder = (branchMm: number) => {
  const field = ([x, y, z]: Vec3): number =>
    Math.min(
      Math.max(Math.hypot(y, z) - 3, -x, x - 44),
      Math.max(Math.hypot(x - 20, z) - 1.5, -y, y - branchMm),
    );
  return polygonise(field, {
    cellMm: 0.5,
    seeds: [[10, 3, 0]],
    rims: [],
    openEnds: false,
    relaxations: 2,
  });
};

/** The feeder, and along its wall from 14 to 24 mm a piece of a 4 mm vein that overlaps it by 0.7 mm; it has no visible end. */
const feederWithVein = () => {
  const field = ([x, y, z]: Vec3): number =>
    Math.min(
      Math.max(Math.hypot(y, z) - 3, -x, x - 44),
      Math.hypot(Math.max(14 - x, 0, x - 24), y - 4.3, z) - 2,
    );
  return polygonise(field, { cellMm: 0.5, seeds: [[10, 3, 0]], rims: [], openEnds: false, relaxations: 2 });
};

const part = (name: string, role: PartSurface['role'], mesh: PartSurface['mesh']): PartSurface => ({
  name,
  role,
  mesh,
  capTriangles: [],
  spare: false,
});

const sac = part('sac', 'sac', moved(gridSphere(60, 10), [48, 0, 0]));

describe('a branch left on the surface of a feeder by the segmentation', () => {
  it('counts as a branch of the feeder: no landing zone extends past it', () => {
    const { lesion, findings } = measureParts([part('A1', 'feeder', feeder(18)), sac], DEFINITIONS, NO_SCAN);
    const [a1] = lesion.vessels;
    expect(a1.branches.map(({ name }) => name)).toEqual(['unnamed-1']);
    const { atMm, fromMm, toMm } = a1.branches[0];
    expect(Math.abs(atMm - 20)).toBeLessThan(0.3);
    // its true edges
    expect(Math.abs(fromMm - 18.5)).toBeLessThan(0.3);
    expect(Math.abs(toMm - 21.5)).toBeLessThan(0.3);
    expect(a1.landing!.fromMm).toBeGreaterThanOrEqual(toMm - 1e-9);
    expect(lesion.unnamed).toMatchObject({ ends: [{ leadsTo: 'A1', branch: 'unnamed-1' }] });
    expect(findings.map(({ id, level, where }) => `${where} ${level} ${id}`)).toEqual([
      'A1 caution unnamed-ends',
    ]);
    expect(findings[0].text).toContain('in surfaces.parts');
  });

  it('does not if another structure continues it, or if it is a bulge', () => {
    const branch = part('B1', 'branch', moved(gridSphere(24, 2.5), [20, 17, 0]));
    const parts = [part('A1', 'feeder', feeder(18)), sac, { ...branch, of: 'A1' }];
    expect(measureParts(parts, DEFINITIONS, NO_SCAN).lesion.unnamed!.ends).toEqual([]);
    const bulge = measureParts([part('A1', 'feeder', feeder(4)), sac], DEFINITIONS, NO_SCAN);
    expect(bulge.lesion.unnamed!.ends).toEqual([]);
  });
});

describe('a neighbour left on the surface of a feeder by the segmentation', () => {
  const parts = (mesh: PartSurface['mesh']): PartSurface[] => [part('A1', 'feeder', mesh), sac];
  const fused = (mesh: PartSurface['mesh']) => {
    const { lesion, findings } = measureParts(parts(mesh), DEFINITIONS, NO_SCAN);
    return { a1: lesion.vessels[0], said: findings.filter(({ id }) => id === 'neighbour-fused') };
  };

  it('is reported with its place, and no landing zone extends past it', () => {
    const { a1, said } = fused(feederWithVein());
    expect(said.map(({ level, where }) => `${where} ${level}`)).toEqual(['A1 caution']);
    const [from, to] = said[0].text
      .match(/between ([\d.]+) and ([\d.]+) mm/)!
      .slice(1)
      .map(Number);
    // round at both ends, it meets the feeder's wall 1.8 mm past them
    expect(from).toBeGreaterThan(12);
    expect(from).toBeLessThan(15);
    expect(to).toBeGreaterThan(23);
    expect(to).toBeLessThan(26);
    expect(a1.landing!.fromMm).toBeGreaterThanOrEqual(to - 0.05);
  });

  it('a branch or a bulge is none, nor is a plain tube', () => {
    for (const branchMm of [18, 4, 3]) expect(fused(feeder(branchMm)).said, `${branchMm}`).toEqual([]);
  });
});

it('a branch whose parent is stopped has no values, and says so', () => {
  // 80 mm from the feeder's end
  const away = part('sac', 'sac', moved(gridSphere(24, 10), [134, 0, 0]));
  const tube = polygonise(([x, y, z]: Vec3) => Math.max(Math.hypot(x - 20, z) - 1.5, 2 - y, y - 18), {
    cellMm: 0.5,
    seeds: [[21.5, 10, 0]],
    rims: [],
    openEnds: false,
    relaxations: 2,
  });
  const parts = [part('A1', 'feeder', feeder(4)), away, { ...part('B1', 'branch', tube), of: 'A1' }];
  const { lesion, findings } = measureParts(parts, DEFINITIONS, NO_SCAN);
  expect(lesion.vessels).toEqual([]);
  expect(findings.map(({ id, level, where }) => `${where} ${level} ${id}`)).toEqual([
    'A1 stop neck-not-found',
    'B1 caution branch-not-joined',
  ]);
  expect(findings[1].text).toContain('A1 was not measured');
});
