import { describe, expect, it } from 'vitest';
import { bloodViscosity, reynoldsNumber } from '../../src/physiology/blood-flow.js';
import { pressureRise } from '../../src/physiology/closure-state.js';
import { feederShares } from '../../src/physiology/feeder-shares.js';
import { shuntAfterClosing } from '../../src/physiology/flow-network.js';
import { integrateProfile, poiseuilleResistance } from '../../src/physiology/vessel-resistance.js';
import { CONSTANTS } from '../../src/reference/constants.js';
import { readCheckValues, worked } from '../check-values/read-check-values.js';
import { feedersOf, vesselOf } from './make.js';

describe('viscosity and resistance against their table', () => {
  for (const row of readCheckValues('viscosity')) {
    it(`${row.id}: ${row.source}`, () => {
      const value = worked(row, {
        viscosity: () => bloodViscosity(row.need('haematocrit_fraction')),
        poiseuille: () => {
          const calibre = integrateProfile(vesselOf('A1', row.need('length_mm'), row.need('calibre_mm')));
          return poiseuilleResistance(calibre?.poiseuilleIntegral ?? Number.NaN, row.need('viscosity_mPas'));
        },
        reynolds: () =>
          reynoldsNumber(row.need('flow_L_min'), row.need('calibre_mm'), row.need('viscosity_mPas')),
        // 1 Pa s/m3 is 1e-5 dyn s/cm5.
        wood: () => CONSTANTS.woodUnitPaSM3.value * 1e-5,
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});

describe('closure against its table', () => {
  for (const row of readCheckValues('closure')) {
    it(`${row.id}: ${row.source}`, () => {
      const { shares } = feederShares(feedersOf(row.word('feeders')));
      const share = shares[row.need('close') - 1];
      const f = row.need('shunt');
      const value = worked(row, {
        'shunt-poiseuille': () => 100 * shuntAfterClosing(f, share.poiseuille),
        'shunt-murray': () => 100 * shuntAfterClosing(f, share.murray),
        'share-poiseuille': () => share.poiseuille,
        'share-murray': () => share.murray,
        'pressure-rise': () => pressureRise(f, shuntAfterClosing(f, share.poiseuille)),
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});

describe('a vessel of changing calibre', () => {
  it('a cone has the closed-form integral (d1^-3 - d2^-3)/(3 k), k = (d2 - d1)/L, and refining converges to it', () => {
    const [d1, d2, length] = [3, 8, 50];
    const exact = (d1 ** -3 - d2 ** -3) / (3 * ((d2 - d1) / length));
    const of = (step: number) =>
      integrateProfile(vesselOf('A1', length, (at) => d1 + ((d2 - d1) * at) / length, 'feeder', step))
        ?.poiseuilleIntegral ?? Number.NaN;
    expect(Math.abs(of(1) / exact - 1)).toBeLessThan(0.005);
    expect(Math.abs(of(0.25) / exact - 1)).toBeLessThan(Math.abs(of(1) / exact - 1) / 10);
  });

  it('stops at the neck: what lies beyond does not count', () => {
    const beyond = vesselOf('A1', 60, (at) => (at <= 40 ? 5 : 20));
    beyond.neck = { atMm: 40, pointMm: [0, 0, 40], calibreMm: 5 };
    expect(integrateProfile(beyond)?.poiseuilleIntegral).toBeCloseTo(40 / 5 ** 4, 12);
  });

  it('an empty profile or a length of zero gives nothing', () => {
    expect(integrateProfile({ ...vesselOf('A1', 10, 5), profile: [] })).toBeUndefined();
    expect(integrateProfile({ ...vesselOf('A1', 10, 5), neck: undefined, lengthMm: 0 })).toBeUndefined();
  });

  it('without a usable haematocrit the nominal viscosity is used', () => {
    for (const haematocrit of [undefined, 0.1, 0.9]) expect(bloodViscosity(haematocrit)).toBe(3.5);
  });
});
