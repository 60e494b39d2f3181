import { describe, expect, it } from 'vitest';
import { renameVessels } from '../../src/compare/rename-vessels.js';
import type { Result } from '../../src/result/result.generated.js';
import { resultOf } from '../grade/make.js';

/** Every position in a result where a vessel is named, with two of its vessels under the given names. */
const lesion = (A1: string, B1: string): Result =>
  ({
    case: 'invented',
    vessels: {
      [A1]: {
        role: 'feeder',
        length_mm: 60,
        branches: [
          { name: B1, at_mm: 20 },
          { name: 'B2', at_mm: 30 },
        ],
      },
      [B1]: { role: 'branch', of: A1, branches: [] },
      V1: { role: 'drain', branches: [] },
    },
    closure: [
      { closed: [A1, 'A10'], shunt_fraction: 0.1, remaining: { [B1]: { flow_l_min: 1 } } },
      { closed: 'lobe', shunt_fraction: 0.05 },
    ],
    closure_order: [A1, 'A10'],
    devices: { [A1]: { code: 'PLUG-08' }, A10: { code: 'PLUG-09' } },
    neighbours: [{ from: `${A1} landing zone`, to: B1, distance_mm: 3 }],
    findings: [
      { id: 'x', level: 'stop', where: A1, text: 'a' },
      { id: 'y', level: 'note', where: `${A1} landing zone`, text: 'b' },
      { id: 'z', level: 'note', where: 'A10', text: 'c' },
    ],
    resection: { lobe: 'lower', spare: [{ name: B1, to_division_mm: 6 }], steps: ['one'] },
  }) as unknown as Result;

describe('a result under other names', () => {
  const names = (...pairs: [string, string][]) => new Map(pairs);

  it('has them everywhere, and nothing else changes', () => {
    const renamed = renameVessels(lesion('upper', 'side'), names(['upper', 'A1'], ['side', 'B1']));
    expect(renamed).toStrictEqual(lesion('A1', 'B1'));
    // one vessel takes the name of another at the same time
    const swapped = renameVessels(lesion('B1', 'A1'), names(['B1', 'A1'], ['A1', 'B1']));
    expect(swapped).toStrictEqual(lesion('A1', 'B1'));
  });

  it('leaves out what is not there', () => {
    const bare = resultOf((r) => void delete r.closure_order);
    const renamed = renameVessels(bare, names(['V1', 'vein']));
    const { vessels, ...rest } = bare;
    const { vessels: other, ...others } = renamed;
    expect(others).toStrictEqual(rest);
    expect(other).toStrictEqual({ A1: vessels.A1, 'A2.b': vessels['A2.b'], vein: vessels.V1 });
  });

  it('is the same where no name changes', () => {
    const one = resultOf();
    expect(renameVessels(one, names(['A1', 'A1'], ['V1', 'V1']))).toBe(one);
    expect(renameVessels(one, names(['A1', 'A1'], ['V1', 'vein']))).not.toBe(one);
  });
});
