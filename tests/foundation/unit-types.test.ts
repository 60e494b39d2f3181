import { expect, it } from 'vitest';
import type { GasSample } from '../../src/case/case.js';
import { oversizeFraction, windowMm } from '../../src/devices/device-window.js';
import type { FeederToClose } from '../../src/devices/feeder.js';
import type { CmH2O, Fraction, KPa, Mm, MmHg, Percent } from '../../src/foundation/unit-types.js';
import { convert } from '../../src/foundation/units.js';
import type { LandingZone } from '../../src/geometry/measure.js';
import { alveolarPo2 } from '../../src/physiology/alveolar-gas.js';
import { oxygenContent } from '../../src/physiology/oxygen-content.js';
import { po2FromSaturation } from '../../src/physiology/oxygen-pressure.js';
import { saturationFromPo2 } from '../../src/physiology/oxygen-saturation.js';
import { shuntFromContents, shuntFromDissolved } from '../../src/physiology/shunt-equation.js';
import { waterVapourPressure } from '../../src/physiology/water-vapour.js';
import { loadRules } from '../../src/rules/load-rules.js';

// Checked by the compiler: a line marked as an error that compiles is itself an error. None of the marked code is ever run.

const rules = loadRules();
const never = (): boolean => false;

const inKPa = convert(210, 'pressure', 'mmHg', 'kPa');
const inMmHg = convert(28, 'pressure', 'kPa', 'mmHg');
const calibre: Mm = 6;
const saturation: Fraction = 0.97;
const occlusion: Percent = 80;

it('accepts a plain number and one in the requested unit', () => {
  expect(saturationFromPo2(inMmHg)).toBeCloseTo(saturationFromPo2(210.02), 4);
  expect(inKPa).toBeCloseTo(28, 2);
  expect(oversizeFraction(9, calibre)).toBe(0.5);
  expect(
    alveolarPo2({ fio2: 1, barometricMmHg: 760, waterVapourMmHg: waterVapourPressure(37), paCO2MmHg: 40 }),
  ).toBe(673);
  const feeder: FeederToClose = { name: 'A1', calibreMm: calibre };
  expect(feeder.calibreMm).toBe(6);
});

it('one in another unit does not compile', () => {
  if (never()) {
    // kPa for mmHg, at every step of the gases
    // @ts-expect-error
    saturationFromPo2(inKPa);
    // @ts-expect-error
    alveolarPo2({ fio2: 1, barometricMmHg: inKPa, waterVapourMmHg: 47, paCO2MmHg: 40 });
    // @ts-expect-error
    shuntFromDissolved(673, inKPa, 5);
    // @ts-expect-error
    oxygenContent(15, 0.97, inKPa);
    // @ts-expect-error
    const sample: Pick<GasSample, 'po2MmHg'> = { po2MmHg: inKPa };
    // cmH2O for mmHg
    // @ts-expect-error
    const pressure: MmHg = 30 as CmH2O;

    // a fraction for a pressure and the reverse, percent for a fraction
    // @ts-expect-error
    po2FromSaturation(inMmHg);
    // @ts-expect-error
    saturationFromPo2(saturation);
    // @ts-expect-error
    oxygenContent(15, inMmHg, 95);
    // @ts-expect-error
    const share: Fraction = occlusion;

    // a pressure or a fraction for a length
    // @ts-expect-error
    windowMm('vascular-plug', inMmHg, rules);
    // @ts-expect-error
    oversizeFraction(9, saturation);
    // @ts-expect-error
    const feeder: FeederToClose = { name: 'A1', calibreMm: saturation };
    // @ts-expect-error
    const zone: Partial<LandingZone> = { calibreMm: occlusion };
    // @ts-expect-error
    const taper: Partial<LandingZone> = { taperPercent: calibre };

    // a pressure for a content
    // @ts-expect-error
    shuntFromContents(inMmHg, 19, 15);

    // what is converted out of a unit is in that unit
    // @ts-expect-error
    convert(inKPa, 'pressure', 'mmHg', 'kPa');
    // @ts-expect-error
    const back: KPa = convert(inKPa, 'pressure', 'kPa', 'mmHg');
    expect([sample, pressure, share, feeder, zone, taper, back]).toBeDefined();
  }
});
