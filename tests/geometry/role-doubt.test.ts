import { describe, expect, it } from 'vitest';
import type { VesselMeasure } from '../../src/geometry/measure.js';
import { roleDoubt } from '../../src/geometry/role-doubt.js';
import { vessel } from '../resection/make.js';

const wide = (name: string, role: VesselMeasure['role'], mean: number): VesselMeasure =>
  vessel(name, { role, calibreMm: { min: mean - 1, mean, max: mean + 9 } });

// In most lesions the draining vein is wider than the artery (common practice, no source). The calibres are those of the demonstration
// cases.
describe('feeder-wider-than-drain', () => {
  it.each([
    ['one feeder', [wide('A1', 'feeder', 5.6), wide('V1', 'drain', 7)]],
    [
      'two feeders that together are wider',
      [wide('A1', 'feeder', 5.6), wide('A2', 'feeder', 4.2), wide('V1', 'drain', 6.6)],
    ],
    ['two veins', [wide('A1', 'feeder', 7), wide('V2', 'drain', 5), wide('V1', 'drain', 8)]],
    ['equal calibres', [wide('A1', 'feeder', 7), wide('V1', 'drain', 7)]],
    [
      'a wide branch and a wide systemic artery',
      [
        wide('A1', 'feeder', 4),
        wide('B1', 'branch', 9),
        wide('S1', 'systemic-feeder', 9),
        wide('V1', 'drain', 5),
      ],
    ],
    ['no vein', [wide('A1', 'feeder', 5.6)]],
    ['no feeder', [wide('V1', 'drain', 5.6)]],
  ])('%s: no doubt', (_, vessels) => {
    expect(roleDoubt(vessels, 1)).toEqual([]);
  });

  it.each([
    ['one feeder', [wide('A1', 'feeder', 7), wide('V1', 'drain', 5.6)], 'A1'],
    [
      'the wider of two feeders',
      [wide('A1', 'feeder', 4), wide('A2', 'feeder', 6.7), wide('V1', 'drain', 6.6)],
      'A2',
    ],
  ])('%s: a caution at the feeder', (_, vessels, where) => {
    expect(roleDoubt(vessels, 1)).toMatchObject([{ id: 'feeder-wider-than-drain', level: 'caution', where }]);
  });

  it('names both vessels with their calibres, and the danger', () => {
    const [{ text }] = roleDoubt([wide('A1', 'feeder', 7.04), wide('V1', 'drain', 5.56)], 1);
    expect(text).toContain('With 7.0 mm it is wider than the widest draining vein (V1, 5.6 mm)');
    expect(text).toContain('carried to the brain');
  });

  it('depends on feeder-drain-ratio', () => {
    const vessels = [wide('A1', 'feeder', 7), wide('V1', 'drain', 5.6)];
    expect(roleDoubt(vessels, 1.26)).toEqual([]);
    expect(roleDoubt(vessels, 1.24)).toHaveLength(1);
  });
});
