import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { numberOf } from '../../src/rules/rule.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { bodyMiddleX } from '../../src/witness/body-side.js';
import { witnessFrame } from '../../src/witness/frame.js';
import { withNumber } from '../rules/with-number.js';
import { axialStack } from './synthetic-ct.js';

const rules = loadRules();

/**
 * A body of soft tissue, 320 mm wide, with two lungs and a bright ball in the left one; voxels of 1.5 mm around the height of
 * the ball.
 */
function chest(widthMm: number, ball: Vec3, radiusMm: number, lumenHu = 350): GreyVolume {
  const step = 1.5;
  const [columns, rows, slices] = [Math.round(widthMm / step), 60, 40];
  const origin: Vec3 = [10 - (step * (columns - 1)) / 2, ball[1] - 45, ball[2] - 30];
  const values = new Int16Array(columns * rows * slices);
  let n = 0;
  for (let k = 0; k < slices; k++)
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++, n++) {
        const p = [origin[0] + i * step, origin[1] + j * step, origin[2] + k * step];
        // the patient lies 10 mm to the left of the middle of the scanner
        const x = Math.abs(p[0] - 10);
        const outside = x > 160 ? -1000 : x > 20 && x < 140 ? -820 : 50;
        const share = Math.max(
          0,
          Math.min(1, 0.5 - (Math.hypot(...p.map((c, d) => c - ball[d])) - radiusMm) / step),
        );
        values[n] = Math.round(outside + share * (lumenHu - outside));
      }
  return { values, stack: axialStack(origin, [step, step, step], [columns, rows, slices]) };
}

const BALL: Vec3 = [80, 12, 40];
const surfaceAt = (shift: Vec3) => {
  const centreMm = BALL.map((x, k) => x + shift[k]) as Vec3;
  const mesh = sacMesh({ centreMm, semiAxesMm: [12, 12, 12] }, 8);
  return [{ name: 'sac', mesh }];
};
const seen = (
  volume: GreyVolume,
  shift: Vec3 = [0, 0, 0],
  side?: 'left' | 'right',
  frame: 'LPS' | 'unknown' = 'LPS',
  inForce = rules,
) => witnessFrame({ surfaces: surfaceAt(shift), vessels: [], frame, side }, volume, inForce);

describe('findings on a surface in its scan', () => {
  const wide = chest(400, BALL, 12);
  it('none where it fits, on the side that the case names', () => {
    const { frame, findings } = seen(wide, [0, 0, 0], 'left');
    expect(frame).toMatchObject({ verdict: 'fits' });
    expect(frame.contrast_hu).toBeGreaterThan(1000);
    expect(findings).toEqual([]);
  });
  it('a stop where the case names the other side of the body', () => {
    const { findings } = seen(wide, [0, 0, 0], 'right');
    expect(findings).toMatchObject([{ id: 'frame-side', level: 'stop', where: 'lesion.side' }]);
    expect(findings[0].text).toMatch(/The case says right, but the surface is (69|7[0-3]) mm to the left/);
  });
  it('none on the side in a scan too narrow to show the middle', () => {
    const narrow = chest(200, BALL, 12);
    expect(bodyMiddleX(narrow, 250)).toBeUndefined();
    expect(seen(narrow, [0, 0, 0], 'right').findings).toEqual([]);
    expect(Math.abs(bodyMiddleX(wide, 250)! - 10)).toBeLessThan(8);
  });
  it('a stop with the shift, which is not applied; a caution below a voxel', () => {
    const far = seen(wide, [3, 0, -2]);
    expect(far.frame).toMatchObject({ verdict: 'shifted', best: 'shift by (-3.0, 0.0, 2.0) mm, LPS' });
    expect(far.findings).toMatchObject([{ id: 'frame-shifted', level: 'stop' }]);
    const near = seen(wide, [0.75, 0, 0]);
    expect(near.frame.verdict).toBe('fits');
    expect(near.findings).toMatchObject([{ id: 'frame-shift', level: 'caution' }]);
    expect(seen(wide, [0.35, 0, 0]).findings).toEqual([]);
  });
  it('a stop where it lies elsewhere, without an identifier or a change to try', () => {
    const { frame, findings } = seen(wide, [-60, 0, 0]);
    expect(frame).toMatchObject({ verdict: 'elsewhere' });
    expect(frame.best).toBeUndefined();
    expect(findings).toMatchObject([{ id: 'frame-elsewhere', level: 'stop' }]);
  });
  it('a caution where the lumen is faint: 200 HU, common practice, no source', () => {
    expect(seen(chest(200, BALL, 12, 190)).findings).toMatchObject([{ id: 'scan-faint', level: 'caution' }]);
    expect(seen(chest(200, BALL, 12, 230)).findings).toEqual([]);
  });
  it('unchecked where there is no wall to look for', () => {
    const { frame, findings } = witnessFrame({ surfaces: [], vessels: [], frame: 'LPS' }, wide, rules);
    expect(frame).toEqual({ verdict: 'unchecked' });
    expect(findings).toMatchObject([{ id: 'frame-unchecked', level: 'caution' }]);
  });
  it.each([
    [1.02, []],
    [0.98, ['frame-shift']],
  ])('frame-shift-caution at %d of the shift: %j', (part, ids) => {
    // voxels of 1.5 mm on all sides
    const { frame } = seen(wide, [0.75, 0, 0]);
    const voxels = Math.hypot(...frame.shift_mm!) / 1.5;
    expect(voxels).toBeGreaterThan(numberOf(rules, 'frame-shift-caution'));
    const inForce = withNumber('frame-shift-caution', part * voxels);
    const { findings } = seen(wide, [0.75, 0, 0], undefined, 'LPS', inForce);
    expect(findings.map(({ id }) => id)).toEqual(ids);
  });
  it.each([
    ['frame-side-margin', 68, ['frame-side']],
    ['frame-side-margin', 75, []],
    // the scan is 398.5 mm from its first column to its last
    ['frame-body-width', 390, ['frame-side']],
    ['frame-body-width', 400, []],
  ])('%s of %d mm: %j', (id, mm, ids) => {
    const { findings } = seen(wide, [0, 0, 0], 'right', 'LPS', withNumber(id, mm));
    expect(findings.map((one) => one.id)).toEqual(ids);
  });
});
