import { expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { measureParts, type PartSurface } from '../../src/geometry/measure-parts.js';
import { polygonise } from '../../src/phantoms/implicit.js';
import { box, gridSphere, moved } from '../mesh/shapes.js';
import { DEFINITIONS, NO_SCAN } from './make.js';

const part = (name: string, role: PartSurface['role'], mesh: PartSurface['mesh']): PartSurface => ({
  name,
  role,
  mesh,
  capTriangles: [],
  spare: false,
});
const sac = part('sac', 'sac', moved(gridSphere(40, 10), [48, 0, 0]));

/** A 6 mm tube along x from 0 to 44 mm that narrows to `waistMm` at 20 mm over about its own width, like two that touch. */
const waisted = (waistMm: number) => {
  const radius = (x: number): number => 3 - (3 - waistMm / 2) * Math.exp(-(((x - 20) / 1.2) ** 2));
  const field = ([x, y, z]: Vec3): number => Math.max(Math.hypot(y, z) - radius(x), -x, x - 44);
  return polygonise(field, { cellMm: 0.4, seeds: [[10, 3, 0]], rims: [], openEnds: false, relaxations: 2 });
};
const said = (mesh: PartSurface['mesh']): string[] =>
  measureParts([part('A1', 'feeder', mesh), sac], DEFINITIONS, NO_SCAN)
    .findings.filter(({ level }) => level === 'stop')
    .map(({ id, where, text }) => `${where} ${id}: ${text}`);

it('does not measure a vessel that narrows and widens again within its own width, and says where', () => {
  const [stop] = said(waisted(1.4));
  expect(stop).toMatch(
    /^A1 vessel-not-measured: its line runs through a bottleneck .* It is not measured\.$/,
  );
  // 20 mm from the far end, half the depth or less around there
  expect(Math.abs(Number(/bottleneck (\S+) mm from its far end/.exec(stop)![1]) - 20)).toBeLessThan(1.5);
  // depth at 20 mm is 2.2 of 3 mm, above half of it
  expect(said(waisted(4.4))).toEqual([]);
});

it('a body without length is not a tube: no line is followed through it', () => {
  expect(said(moved(box(6, 6, 6), [34, -3, -3]))).toEqual([
    'A1 vessel-not-followed: no centreline could be followed through this surface: is it one tube, open or capped at both ends?',
  ]);
});
