import { describe, expect, it } from 'vitest';
import { gasLimits, highestBelievedPo2MmHg } from '../../src/physiology/gas-limits.js';
import { nearZero } from '../../src/physiology/near-zero.js';
import {
  disagreements,
  isOnAir,
  roomAirDisagreements,
  smallDifference,
  venousLook,
  type WorkedSample,
} from '../../src/physiology/sample-agreement.js';
import type { ResolvedSample } from '../../src/physiology/shunt-inputs.js';
import type { ShuntWorking } from '../../src/physiology/shunt-model.js';
import type { Shunt } from '../../src/result/result.generated.js';
import { RULES, sampleOf } from './make.js';
import { saturationLeft } from './independent-formulas.js';

const LIMITS = gasLimits(RULES);
const shuntOf = (
  fraction: number | undefined,
  interval?: [number, number],
  method: Shunt['method'] = 'content',
) => ({ fraction, interval, method, sample: 'x', assumed: [] }) as Shunt;
const resolvedOf = (name: string, path: string, more: Partial<ResolvedSample> = {}) =>
  ({ sample: sampleOf({ name, path }), numbers: {}, ...more }) as ResolvedSample;
const told = (found: { level: string; id: string; where: string }[]): string[] =>
  found.map(({ level, id, where }) => `${level} ${id} ${where}`);

describe('blood that looks venous', () => {
  it.each([
    [{ po2MmHg: 45 }, 'gases[0].po2'],
    [{ po2MmHg: 45.1 }, undefined],
    [{ so2Fraction: 0.8 }, 'gases[0].so2'],
    [{ so2Fraction: 0.801 }, undefined],
    [{ po2MmHg: 52, so2Fraction: 0.8 }, 'gases[0].so2'],
    [{ po2MmHg: 45, so2Fraction: 0.8 }, 'gases[0].po2'],
    [{}, undefined],
  ])('%o: %s', (given, where) => {
    expect(told(venousLook(sampleOf(given), undefined, LIMITS))).toEqual(
      where === undefined ? [] : [`caution venous-sample-suspect ${where}`],
    );
  });

  it('is reported with the values available, and both answers where there is one', () => {
    const text = (given: Parameters<typeof sampleOf>[0], shunt?: Shunt): string =>
      venousLook(sampleOf(given), shunt, LIMITS)[0].text;
    expect(text({ po2MmHg: 44, so2Fraction: 0.77, pco2MmHg: 30 }, shuntOf(0.45))).toContain(
      '(PO2 44.0 mmHg (5.9 kPa), saturation 77.0 %, PCO2 30.0 mmHg (4.0 kPa)). A large shunt gives such blood, and so does a vein; a low PCO2 does not tell them apart. If it was arterial, the shunt is 45.0 %; if it was venous, it gives none. Compare',
    );
    expect(text({ po2MmHg: 44, pco2MmHg: undefined })).toContain('(PO2 44.0 mmHg (5.9 kPa)). A large');
    expect(text({ so2Fraction: 0.77, pco2MmHg: undefined })).toContain('(saturation 77.0 %). A large');
    expect(text({ po2MmHg: 44 }, shuntOf(undefined))).toContain('tell them apart. Compare');
  });
});

describe('a mixed-venous sample with a small difference', () => {
  const doubtfulVenous = { sample: sampleOf({ name: 'pa', path: 'gases[1]' }), differenceMlDl: 2.1 };
  const resolved = resolvedOf('x', 'gases[0]', { doubtfulVenous });
  const rows = [
    { av_difference_ml_dl: 4.4, fraction: 0.33, source: '' },
    { av_difference_ml_dl: 5, fraction: 0.3, source: '' },
  ];

  it('is reported with both answers', () => {
    const found = smallDifference({ shunt: { ...shuntOf(0.5), sensitivity: rows }, resolved }, LIMITS);
    expect(told(found)).toEqual(['caution mixed-venous-small-difference gases[1]']);
    expect(found[0].text).toContain(
      'sample pa is 2.10 mL/dL, not above 2.5 mL/dL: arterial admixture, or a high output (liver malformation, anaemia). With the measured difference the shunt is 50.0 %, with the conventional 5 mL/dL it would be 30.0 %. Measure',
    );
    const alone = smallDifference({ shunt: shuntOf(0.5), resolved }, LIMITS);
    expect(alone[0].text).toContain('anaemia). Measure');
  });

  it('does not matter without a doubt, or without an answer', () => {
    expect(smallDifference({ shunt: shuntOf(0.5), resolved: resolvedOf('x', 'gases[0]') }, LIMITS)).toEqual(
      [],
    );
    expect(smallDifference({ shunt: shuntOf(undefined), resolved }, LIMITS)).toEqual([]);
    expect(smallDifference({ resolved }, LIMITS)).toEqual([]);
    expect(smallDifference({ shunt: shuntOf(0.5) }, LIMITS)).toEqual([]);
  });
});

describe('two samples', () => {
  const first: WorkedSample = { shunt: shuntOf(0.3, [0.2, 0.4]), resolved: resolvedOf('first', 'gases[0]') };
  const second = (shunt: Shunt | undefined): WorkedSample => ({
    shunt,
    resolved: resolvedOf('second', 'gases[1]'),
  });
  it.each<[number | undefined, [number, number] | undefined, boolean]>([
    [0.3, [0.25, 0.35], false],
    // each within the other's interval, its ends included
    [0.2, [0.1, 0.3], false],
    [0.4, [0.3, 0.5], false],
    [0.19, [0.1, 0.3], true],
    [0.41, [0.3, 0.5], true],
    [0.25, [0.2, 0.29], true],
    [0.35, [0.31, 0.4], true],
    [0.3, undefined, true],
    [undefined, [0.1, 0.2], false],
  ])('of 0.3 in 0.2 to 0.4 and of %d in %o: contradict each other %s', (fraction, interval, isDoubted) => {
    expect(told(disagreements(first, [second(shuntOf(fraction, interval))]))).toEqual(
      isDoubted ? ['caution shunt-samples-disagree gases[1]'] : [],
    );
  });

  it('cannot contradict each other if one has no answer', () => {
    const other = second(shuntOf(0.8, [0.7, 0.9]));
    expect(disagreements(first, [second(undefined), { shunt: other.shunt }])).toEqual([]);
    expect(disagreements({ ...first, shunt: undefined }, [other])).toEqual([]);
    expect(disagreements({ ...first, shunt: shuntOf(undefined) }, [other])).toEqual([]);
    expect(disagreements({ ...first, resolved: undefined }, [other])).toEqual([]);
    expect(disagreements(first, [other, other])).toHaveLength(2);
  });

  it('are reported with both answers; on less oxygen a higher one is expected', () => {
    const text = (one: Shunt['method'], other: Shunt['method']): string =>
      disagreements({ ...first, shunt: shuntOf(0.3, [0.2, 0.4], one) }, [
        second(shuntOf(0.5, [0.45, 0.55], other)),
      ])[0].text;
    expect(text('content', 'content')).toBe(
      'The samples contradict each other: second gives 50.0 % (45.0 to 55.0 %), first 30.0 % (20.0 to 40.0 %). The latter is reported; check both, or repeat.',
    );
    expect(text('content', 'room-air')).toContain(
      'a higher value is expected, a lower one is not. The latter',
    );
    expect(text('room-air', 'room-air')).toContain('40.0 %). The latter');
  });
});

describe('a saturation on air next to a shunt on oxygen', () => {
  const BLOOD = { hb: 15, pb: 760, pco2: 40, difference: 5, ph: 7.4 };
  const numbers = {
    haemoglobinGDl: BLOOD.hb,
    ph: BLOOD.ph,
    pco2MmHg: BLOOD.pco2,
    barometricMmHg: BLOOD.pb,
    respiratoryQuotient: 0.8,
  } as ResolvedSample['numbers'];
  const working = { waterVapourMmHg: 47, avDifferenceMlDl: 5 } as ShuntWorking;
  const chosen: WorkedSample = {
    shunt: shuntOf(0.19),
    resolved: resolvedOf('x', 'gases[0]', { numbers }),
    working,
  };
  const reading = { where: 'patient.oximetry.lying', words: 'The saturation on air by oximetry, lying,' };
  const found = (saturation: number, more = {}, from = chosen) =>
    roomAirDisagreements(from, [{ ...reading, saturation, ...more }], LIMITS);

  it('is doubted from 5 points on to either side of what a second implementation predicts', () => {
    const expected = saturationLeft(0.19, 0.21, BLOOD);
    expect(found(expected - 0.0499)).toEqual([]);
    expect(found(expected + 0.0499)).toEqual([]);
    expect(told(found(expected - 0.0501))).toEqual([
      'caution room-air-saturation-unexplained patient.oximetry.lying',
    ]);
    expect(found(expected - 0.0501)[0].text).toContain('lower than this shunt explains');
    expect(found(expected + 0.0501)[0].text).toContain('higher than this shunt allows');
    expect(found(expected - 0.0501)[0].text).toContain('the reported shunt of 19.0 % leaves 92.6 % on air.');
    // standing, it may be lower, not higher
    expect(found(expected - 0.0501, { mayBeLower: true })).toEqual([]);
    expect(found(expected + 0.0501, { mayBeLower: true })).toHaveLength(1);
  });

  it('is compared at the alveolar PO2 of its own sample where it has one', () => {
    // 60 mmHg instead of 102: by the same balance at a lower pressure
    const low = saturationLeft(0.19, 0.21, { ...BLOOD, pb: 47 + (60 + 40 * (0.21 + 0.79 / 0.8)) / 0.21 });
    expect(found(low - 0.049, { alveolarPo2MmHg: 60 })).toEqual([]);
    expect(found(low - 0.051, { alveolarPo2MmHg: 60 })).toHaveLength(1);
  });

  it('does not matter without an answer or haemoglobin', () => {
    const without = (more: Partial<WorkedSample>) => found(0.3, {}, { ...chosen, ...more });
    expect(found(0.3)).toHaveLength(1);
    expect(without({ shunt: undefined })).toEqual([]);
    expect(without({ shunt: shuntOf(undefined) })).toEqual([]);
    expect(without({ resolved: undefined })).toEqual([]);
    expect(without({ working: undefined })).toEqual([]);
    const noBlood = { ...numbers, haemoglobinGDl: undefined };
    expect(without({ resolved: resolvedOf('x', 'gases[0]', { numbers: noBlood }) })).toEqual([]);
    // a shunt that takes more oxygen than the blood holds leaves no saturation to compare with
    expect(without({ shunt: shuntOf(0.9) })).toEqual([]);
  });

  it.each([
    [undefined, false],
    [0.21, true],
    [0.2001, true],
    [0.2199, true],
    [0.1999, false],
    [0.2201, false],
    [1, false],
  ])('FiO2 %d is air: %s', (fio2, isAir) => {
    expect(isOnAir({ fio2 })).toBe(isAir);
  });
});

describe('limits of an answer', () => {
  it.each([
    // the smaller of 40 mmHg and 6 %
    [100, 106],
    [600, 636],
    [700, 740],
    [0, 0],
    [-10, -10],
  ])('analyser error explains at an alveolar PO2 of %d mmHg up to %d mmHg', (alveolar, highest) => {
    expect(highestBelievedPo2MmHg(alveolar, LIMITS)).toBeCloseTo(highest, 9);
  });

  it.each<[number, [number, number], number | undefined]>([
    [0, [0.01, 0.03], 0.03],
    [-0.02, [-0.05, 0.03], 0.05],
    [0.05, [0, 0.09], 0.09],
    [0.05, [0.001, 0.09], undefined],
    [0.051, [-0.01, 0.09], undefined],
    [-0.9, [-1, 0.4], 1],
  ])('a shunt of %d drawn in %o cannot be distinguished from none: at most %d', (fraction, drawn, most) => {
    const found = nearZero(fraction, drawn, LIMITS);
    if (most === undefined) expect(found).toBeUndefined();
    else {
      expect(found).toMatchObject({ fraction: 0, equationFraction: fraction });
      expect(found?.upperLimit).toBeCloseTo(most, 12);
      expect(found?.interval).toEqual([0, found?.upperLimit]);
    }
  });
});
