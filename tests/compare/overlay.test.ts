import { describe, expect, it } from 'vitest';
import { layOver, type OverlaySide } from '../../src/compare/overlay.js';
import { distance } from '../../src/foundation/vector.js';
import { registrationRules } from '../../src/geometry/register/registration-rules.js';
import { posed } from '../../src/geometry/register/rigid-pose.js';
import { measure } from '../../src/mesh/measures.js';
import { partMeshes, wholeMesh } from '../../src/phantoms/lesion.js';
import { movePoint, NO_TURN, type RigidMotion, seededMotion } from '../../src/phantoms/rigid.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { noisyCopy } from '../geometry/register/make.js';
import { type LesionState, lesionOf } from './make-case.js';

const rules = loadRules();
const limits = registrationRules(rules);
/** Far more than it takes on an idle machine. */
const PATIENCE = 240_000;
const STILL: RigidMotion = { rotation: NO_TURN, translationMm: [0, 0, 0] };
const SCAN = { sliceThicknessMm: 0.8, inPlaneMm: 0.7 };

function sideOf(state: LesionState, motion = STILL, noiseMm = 0): OverlaySide {
  const parts = partMeshes(lesionOf(state), { around: 24, stepMm: 1, sacFrequency: 12 });
  return {
    structures: parts.map(({ name, role, mesh }, i) => ({
      name,
      role,
      mesh: noisyCopy(mesh, motion, noiseMm, 5 + i),
    })),
    frame: 'LPS',
    scan: SCAN,
  };
}
const matches = ['A1', 'A2', 'V1'].map((name) => ({
  role: 'feeder' as const,
  oldName: name,
  newName: name,
  matchedBy: 'name' as const,
}));
const lay = (old: OverlaySide, now: OverlaySide) => layOver(old, now, matches, rules, limits);
const laid = (old: OverlaySide, now: OverlaySide) => {
  const found = lay(old, now);
  return 'absentBecause' in found ? expect.fail(found.absentBecause) : found;
};

const first = sideOf({});
/** As a patient lies in the scanner the next time. */
const shifted: RigidMotion = { rotation: [0.99, 0.08, -0.06, 0.1], translationMm: [12, -30, 45] };
const size = Math.hypot(...shifted.rotation);
const lying: RigidMotion = {
  ...shifted,
  rotation: shifted.rotation.map((c) => c / size) as unknown as RigidMotion['rotation'],
};

describe('a second scan overlaid on the first', () => {
  it(
    'of a sac that grew: the pose depends on the vessels, the growth shows as distance',
    () => {
      const { overlay, pairs } = laid(first, sideOf({ sac: 1.25 }, lying, 0.1));
      expect(overlay.basis).toBe('the vessels that both scans have (A1, A2, V1), without the sac');
      expect(overlay.turnDeg).toBeLessThan(25);
      expect(overlay.notes).toEqual([]);
      for (const p of [
        [28, 10, 36],
        [46, -32, 76],
        [70, -20, 30],
      ] as [number, number, number][])
        expect(distance(posed(overlay.pose, movePoint(lying, p)), p)).toBeLessThan(0.5);
      const sac = overlay.rows.find(({ name }) => name === 'sac')!;
      // the mean distance is about the volume gained over the mean of both areas
      const [before, after] = [{}, { sac: 1.25 }].map((state) => measure(sacMesh(lesionOf(state).sac, 12)));
      const gained = (after.volumeMm3 - before.volumeMm3) / ((after.areaMm2 + before.areaMm2) / 2);
      expect(gained).toBeGreaterThan(2);
      expect(sac.meanMm / gained).toBeCloseTo(1, 1);
      expect(sac.beyondLimit).toBeGreaterThan(0.95);
      expect(sac.outwardMm).toBeLessThan(4.5);
      expect(overlay.limitMm).toBe(0.8);
      for (const { name, meanMm, beyondLimit } of overlay.rows.filter((row) => row.name !== 'sac')) {
        expect(Math.abs(meanMm), name).toBeLessThan(0.4);
        expect(beyondLimit, name).toBeLessThan(0.35);
      }
      expect(pairs).toHaveLength(4);
    },
    PATIENCE,
  );

  it(
    'of an unchanged lesion: nothing lies beyond the scans',
    () => {
      const { overlay } = laid(first, sideOf({}, lying, 0.1));
      for (const row of overlay.rows) {
        expect(row.beyondLimit).toBe(0);
        expect(row.p95Mm).toBeLessThan(0.3);
        expect(row.hausdorffMm).toBeLessThan(0.8);
      }
    },
    PATIENCE,
  );

  it(
    'in other patient axes: converted to the axes of the old scan first',
    () => {
      const ras: OverlaySide = {
        ...first,
        frame: 'RAS',
        structures: first.structures.map((one) => ({
          ...one,
          mesh: { ...one.mesh, positions: one.mesh.positions.map((c, i) => (i % 3 === 2 ? c : -c)) },
        })),
      };
      expect(laid(first, ras).overlay.turnDeg).toBeLessThan(0.1);
    },
    PATIENCE,
  );

  it(
    'rotated further than a patient lies: placed, with doubt',
    () => {
      const { overlay } = laid(first, sideOf({}, seededMotion(3, 40), 0.1));
      expect(overlay.turnDeg).toBeGreaterThan(45);
      expect(overlay.notes[0]).toMatch(/^The pose turns the patient by \d+°; more than 45°/);
    },
    PATIENCE,
  );

  it(
    'with a feeder gone and no voxels stated: relies on what is left, and says what is not known',
    () => {
      const now = { ...sideOf({ A1: 0, sac: 0.8 }, lying, 0.1), scan: {} };
      const { overlay, onlyOld, onlyNew } = laid(first, now);
      expect(overlay.basis).toContain('(A2, V1)');
      expect([onlyOld.length, onlyNew.length]).toEqual([1, 0]);
      expect(overlay.limitMm).toBeUndefined();
      expect(overlay.rows.every(({ beyondLimit }) => beyondLimit === undefined)).toBe(true);
      expect(overlay.notes.join()).toContain('does not state its voxel size');
      expect(overlay.rows.find(({ name }) => name === 'sac')!.meanMm).toBeLessThan(-1);
    },
    PATIENCE,
  );

  it(
    'one fused surface: the sac is left out of the pose',
    () => {
      const whole = (state: LesionState, motion: RigidMotion): OverlaySide => {
        const lesion = lesionOf(state);
        return {
          structures: [
            { name: 'lesion', role: 'whole', mesh: noisyCopy(wholeMesh(lesion, 1.2).mesh, motion, 0.05, 1) },
            { name: 'sac', role: 'sac', mesh: noisyCopy(sacMesh(lesion.sac, 12), motion, 0.05, 2) },
          ],
          frame: 'LPS',
          scan: SCAN,
        };
      };
      const found = layOver(whole({}, STILL), whole({ sac: 1.25 }, lying), [], rules, limits);
      if ('absentBecause' in found) expect.fail(found.absentBecause);
      const { overlay, pairs } = found;
      expect(overlay.basis).toBe('the vessels of the one surface, without the sac');
      expect(overlay.rows.map(({ name }) => name)).toEqual(['lesion', 'sac']);
      expect(overlay.rows[1].meanMm).toBeGreaterThan(1.8);
      expect(distance(posed(overlay.pose, movePoint(lying, [28, 10, 36])), [28, 10, 36])).toBeLessThan(0.7);
      expect(pairs).toHaveLength(1);
    },
    PATIENCE,
  );

  it(
    'of another lesion, or of one tube: absent with the reason',
    () => {
      const tube = (side: OverlaySide): OverlaySide => ({
        ...side,
        structures: side.structures.filter(({ name }) => name === 'V1'),
      });
      const one = lay(tube(first), tube(sideOf({}, lying, 0.1)));
      expect(one).toMatchObject({
        absentBecause: expect.stringMatching(/^no pose is accepted \(.*fits as well/),
      });
      expect(lay(tube(first), { ...first, structures: [] })).toEqual({
        absentBecause: 'the two scans have no structure in common that is given as a surface',
      });
    },
    PATIENCE,
  );
});
