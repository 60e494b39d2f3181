import { expect, it } from 'vitest';
import { laidOver, type OverlaySide } from '../../src/compare/overlay.js';
import type { Registration } from '../../src/geometry/register/register-surfaces.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';
import { withNumber } from '../rules/with-number.js';

const rules = loadRules();
const ball = (radiusMm: number): TriangleMesh =>
  sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [radiusMm, radiusMm, radiusMm] }, 10);
const side = (mesh: TriangleMesh, voxelMm: number): OverlaySide => ({
  structures: [{ name: 'sac', role: 'sac', mesh }],
  frame: 'LPS',
  scan: { sliceThicknessMm: voxelMm, inPlaneMm: 0.5 },
});

it('overlay-change-voxels: a wall that moved by more than this many voxels of the coarser scan is counted', () => {
  const found = {
    pose: {
      rotation: [
        [1, 0, 0],
        [0, 1, 0],
        [0, 0, 1],
      ],
      translationMm: [0, 0, 0],
    },
    turnDeg: 0,
    converged: true,
  } as unknown as Registration;
  const COARSER_MM = 0.9;
  /** The fraction of a ball, grown everywhere by this much, that lies beyond the limit, and the limit. */
  const grown = (byMm: number, inForce = rules): [number | undefined, number | undefined] => {
    const [old, now] = [ball(10), ball(10 + byMm)];
    const pairs = [{ name: 'sac', oldName: 'sac', role: 'sac', old, now }];
    const sides = { old: side(old, 0.7), moved: side(now, COARSER_MM) };
    const { overlay } = laidOver('the sac', found, { ...sides, pairs, rules: inForce });
    return [overlay.limitMm, overlay.rows[0].beyondLimit];
  };
  const limitMm = numberOf(rules, 'overlay-change-voxels') * COARSER_MM;
  // two balls with the same facets are nowhere farther apart than their radii
  expect(grown(limitMm - 0.05)).toEqual([limitMm, 0]);
  expect(grown(limitMm + 0.05)).toEqual([limitMm, 1]);
  const twice = withNumber('overlay-change-voxels', 2);
  expect(grown(limitMm + 0.05, twice)).toEqual([2 * COARSER_MM, 0]);
});
