import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { sacMesh } from '../../src/phantoms/sac.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { assumedBlur } from '../../src/witness/blur.js';
import { lesionInScan } from '../../src/witness/lesion-in-scan.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { withNumber } from '../rules/with-number.js';
import { axialStack } from './synthetic-ct.js';

const rules = loadRules();
/** Half the height of a Gaussian: exp(-x² / 2s²) = 1/2 at both ends of its width. */
const widthMm = (sigmaMm: number): number => 2 * sigmaMm * Math.sqrt(2 * Math.LN2);

/** A ball of 6 mm in lung whose wall is a ramp of this width: at 9 mm wider than any blur tried. */
function ballScan(rampMm: number, lumenHu: number): GreyVolume {
  const [step, count]: [number, number] = [1, 40];
  const origin: Vec3 = [-20, -20, -20];
  const values = new Int16Array(count ** 3);
  for (let n = 0; n < values.length; n++) {
    const p = [n % count, Math.floor(n / count) % count, Math.floor(n / count ** 2)].map(
      (i, k) => origin[k] + i * step,
    );
    const share = Math.max(0, Math.min(1, 0.5 - (Math.hypot(...p) - 6) / rampMm));
    values[n] = Math.round(-820 + share * (lumenHu + 820));
  }
  return { values, stack: axialStack(origin, [step, step, step], [count, count, count]) };
}
const ball = [{ name: 'sac', role: 'sac', mesh: sacMesh({ centreMm: [0, 0, 0], semiAxesMm: [6, 6, 6] }, 8) }];
const seen = (volume: GreyVolume) =>
  lesionInScan({ surfaces: ball, vessels: [], frame: 'LPS' }, volume, rules);

describe('the blur of a scan', () => {
  it('blur-unknown: a note where its edges fit no blur, a caution where the lumen is faint as well', () => {
    // 1.6 mm inside the wall the ramp has reached two thirds of the contrast
    for (const [lumenHu, level, looked] of [
      [1200, 'note', 'were searched for with an assumed blur'],
      [380, 'caution', 'were not searched for'],
    ] as const) {
      const { findings, frame, missed } = seen(ballScan(9, lumenHu));
      expect(frame.verdict).toBe('fits');
      const found = findings.filter(({ id }) => id === 'blur-unknown');
      expect(found).toMatchObject([{ level, where: 'scan.series' }]);
      expect(found[0].text).toContain(looked);
      expect(missed === undefined).toBe(level === 'caution');
    }
  });

  it('is fitted without a finding where the edges are clean', () => {
    const { findings, blurMm } = seen(ballScan(1.5, 380));
    expect(blurMm).toBeDefined();
    expect(findings.map(({ id }) => id)).not.toContain('blur-unknown');
  });

  const volume = { ...ballScan(9, 380), stack: axialStack([0, 0, 0], [0.6, 0.5, 2], [40, 40, 40]) };
  it('when assumed, its width is scan-assumed-blur voxels in each direction, at least scan-assumed-blur-least', () => {
    // 1.5 voxels of 0.6 mm would be 0.9 mm, below 1 mm
    const { planeMm, normalMm } = assumedBlur(volume, 380, rules);
    expect([widthMm(planeMm), widthMm(normalMm)]).toEqual([expect.closeTo(1, 9), expect.closeTo(3, 9)]);
    const wider = assumedBlur(volume, 380, withNumber('scan-assumed-blur', 2));
    expect([widthMm(wider.planeMm), widthMm(wider.normalMm)]).toEqual([
      expect.closeTo(1.2, 9),
      expect.closeTo(4, 9),
    ]);
    const less = assumedBlur(volume, 380, withNumber('scan-assumed-blur-least', 0.8));
    expect([widthMm(less.planeMm), widthMm(less.normalMm)]).toEqual([
      expect.closeTo(0.9, 9),
      expect.closeTo(3, 9),
    ]);
  });
});
