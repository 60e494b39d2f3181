import { describe, expect, it } from 'vitest';
import { proposeSurface } from '../../src/proposal/proposal.js';
import { bendScan } from '../witness/tube-scene.js';

describe('a surface from the scan', () => {
  it('is closed and holds sac and vessel', () => {
    const volume = bendScan();
    const { mesh } = proposeSurface({
      volume,
      ends: [{ name: 'A1', role: 'feeder', at: [29.9, 2, 0] }],
      sac: [-8, 30, 0],
    });
    expect(mesh.triangles.length).toBeGreaterThan(3000);
  });
  it('refuses a point in lung and says the grey value', () => {
    expect(() =>
      proposeSurface({
        volume: bendScan(),
        ends: [{ name: 'A1', role: 'feeder', at: [10, 2, 0] }],
        sac: [-8, 30, 0],
      }),
    ).toThrow(/A1.*-820 HU/);
  });
});
