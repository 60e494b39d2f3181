import { describe, expect, it } from 'vitest';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { proposeSurface } from '../../src/proposal/proposal.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { syntheticCt } from '../witness/synthetic-ct.js';
import { bendScan } from '../witness/tube-scene.js';
import { trial } from './trial.js';

const rules = loadRules();

describe('a surface from the scan', () => {
  it('is closed and holds sac and vessel', () => {
    const volume = bendScan();
    const { mesh } = proposeSurface(
      {
        volume,
        ends: [{ name: 'A1', role: 'feeder', at: [29.9, 2, 0] }],
        sac: [-8, 30, 0],
      },
      rules,
    );
    expect(mesh.triangles.length).toBeGreaterThan(3000);
  });
  it('refuses a point in lung and says the grey value', () => {
    expect(() =>
      proposeSurface(
        {
          volume: bendScan(),
          ends: [{ name: 'A1', role: 'feeder', at: [10, 2, 0] }],
          sac: [-8, 30, 0],
        },
        rules,
      ),
    ).toThrow(/A1.*-820 HU/);
  });
  it('holds calibre, neck and sac of a grown lesion to the truth', () => {
    const plan = { ...randomLesion(3, { feeders: 1, drains: 1, sacRadiusMm: 6 }), neighbours: [] };
    const spacing: [number, number, number] = [0.7, 0.7, 0.8];
    const found = trial(plan, syntheticCt(plan, { spacing }), 3);
    expect(found.missing).toEqual([]);
    for (const { error } of found.calibre) expect(Math.abs(error)).toBeLessThan(0.25);
    for (const { error } of found.neck) expect(Math.abs(error)).toBeLessThan(1);
    expect(Math.abs(found.sac.ml / found.sac.trueMl - 1)).toBeLessThan(0.08);
    expect(found.farthestMm).toBeLessThan(3);
  });
});
