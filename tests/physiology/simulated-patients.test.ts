import { describe, expect, it } from 'vitest';
import { caseShunts } from '../../src/physiology/case-shunts.js';
import { closureTable } from '../../src/physiology/closure-table.js';
import { oxygenContent } from '../../src/physiology/oxygen-content.js';
import { saturationFromPo2 } from '../../src/physiology/oxygen-saturation.js';
import { saturationFromShunt } from '../../src/physiology/saturation-from-shunt.js';
import { seededRandom } from '../../src/physiology/seeded-random.js';
import { CONSTANTS } from '../../src/reference/constants.js';
import { IS_LONG } from '../long-tests.js';
import { closureCaseOf, feedersOf, RULES, sampleOf, shuntBy } from './make.js';

// Simulated patients with a known truth, and readings with the errors that the program assumes for them.

const c = CONSTANTS;

/** PO2 of blood of this content, by bisection on the standard curve. */
function po2OfContent(content: number, haemoglobinGDl: number): number {
  let [low, high] = [1, 900];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (oxygenContent(haemoglobinGDl, saturationFromPo2(middle, {}), middle) < content) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

describe('simulated patients with a known shunt', () => {
  // The truth is built in the other direction: arterial blood is mixed from end-capillary and mixed-venous blood, then each
  // reading gets the error that the program assumes for it.
  const PATIENTS = IS_LONG ? 1000 : 120;
  it.each(IS_LONG ? [0, 0.005, 0.01, 0.02, 0.03, 0.05] : [0, 0.02])(
    'the interval contains a true shunt of %d',
    (truth) => {
      const random = seededRandom(1000 + Math.round(1e4 * truth));
      let [held, answered, toldFromNone] = [0, 0, 0];
      for (let i = 0; i < PATIENTS; i++) {
        const hb = 10 + 8 * random.uniform();
        const difference = Math.max(1, 5 + c.avDifferenceSdMlDl.value * random.normal());
        const pco2 = 36 + 4 * random.normal();
        const pressure = 745 + 10 * random.normal();
        const alveolar = pressure - 47.1 - pco2;
        const endCapillary = oxygenContent(hb, saturationFromPo2(alveolar, {}), alveolar);
        const po2 = po2OfContent(endCapillary - (difference * truth) / (1 - truth), hb);
        const { shunt } = shuntBy({
          samples: [
            sampleOf({
              po2MmHg: po2 * (1 + c.po2SdFraction.value * random.normal()),
              pco2MmHg: pco2 + c.pco2SdMmHg.value * random.normal(),
              barometricMmHg: pressure + c.measuredPressureSdMmHg.value * random.normal(),
            }),
          ],
          when: 'before',
          haemoglobinGDl: hb * (1 + c.haemoglobinSdFraction.value * random.normal()),
        });
        if (shunt?.fraction === undefined || !shunt.interval) continue;
        answered++;
        if (shunt.interval[0] <= truth && truth <= shunt.interval[1]) held++;
        if (shunt.interval[0] > 0) toldFromNone++;
        if (shunt.upper_limit !== undefined) expect(shunt.fraction).toBe(0);
      }
      expect(answered).toBeGreaterThan(0.95 * PATIENTS);
      // 95 % within three standard errors of the count.
      expect(held).toBeGreaterThan((0.95 - 3 * Math.sqrt((0.95 * 0.05) / answered)) * answered);
      if (truth === 0) expect(toldFromNone).toBeLessThan(0.08 * answered);
    },
  );
});

const KEYS = [
  'shunt_fraction',
  'so2_room_air_percent',
  'mean_pa_pressure_mmhg',
  'cardiac_output_l_min',
] as const;

describe('intervals after closure contain the values of simulated patients', () => {
  // Truth: two feeders whose shares lie anywhere between the two laws; readings with the errors that the program assumes for
  // them.
  it('in about 95 % of them', () => {
    const patients = IS_LONG ? 500 : 40;
    const random = seededRandom(31);
    const feeders = feedersOf('6x60 4x60');
    const [poiseuille, murray] = [0.8351, 0.7714];
    const held: Record<string, number> = {};
    for (let i = 0; i < patients; i++) {
      const hb = 12 + 7 * random.uniform();
      const difference = Math.max(2, 5 + c.avDifferenceSdMlDl.value * random.normal());
      const pco2 = 34 + 3 * random.normal();
      const f = 0.1 + 0.3 * random.uniform();
      const share = poiseuille + (murray - poiseuille) * random.uniform();
      const [wedge, meanPa, output] = [
        7 + 3 * random.uniform(),
        14 + 4 * random.uniform(),
        4 + 3 * random.uniform(),
      ];
      const alveolar = 750 - 47.1 - pco2;
      const arterial = oxygenContent(hb, 1, alveolar) - (difference * f) / (1 - f);
      const read = (value: number, sd: number) => value + sd * random.normal();
      const patientCase = {
        ...closureCaseOf(),
        blood: { haemoglobinGDl: read(hb, hb * c.haemoglobinSdFraction.value) },
        circulation: {
          meanPaPressureMmHg: read(meanPa, c.measuredCatheterSdMmHg.value),
          wedgePressureMmHg: read(wedge, c.measuredCatheterSdMmHg.value),
          cardiacOutputLMin: read(output, output * c.outputSdFraction.value),
          cardiacOutputMethod: 'thermodilution' as const,
        },
        gases: [
          sampleOf({
            po2MmHg: po2OfContent(arterial, hb) * read(1, c.po2SdFraction.value),
            pco2MmHg: read(pco2, c.pco2SdMmHg.value),
            barometricMmHg: read(750, c.measuredPressureSdMmHg.value),
          }),
        ],
      };
      const shunts = caseShunts({ ...patientCase, scan: {} } as never, RULES);
      const [row] = closureTable({
        vessels: feeders,
        shunt: shunts.closureShunt,
        draws: shunts.headline.draws,
        case: patientCase,
        rules: RULES,
        sets: [['A1']],
      }).rows;
      const after = (f * (1 - share)) / (1 - f * share);
      const rise = (1 - after) / (1 - f);
      const truth = {
        shunt_fraction: after,
        so2_room_air_percent:
          100 *
          (saturationFromShunt(after, {
            haemoglobinGDl: hb,
            avDifferenceMlDl: difference,
            alveolarPo2MmHg: 0.21 * (750 - 47.1) - pco2 * (0.21 + 0.79 / 0.8),
          })?.so2Fraction ?? 0),
        mean_pa_pressure_mmhg: wedge + (meanPa - wedge) * rise,
        cardiac_output_l_min: output / rise,
      };
      for (const key of KEYS) {
        const [low, high] = row.intervals?.[key] ?? [Number.NaN, Number.NaN];
        held[key] = (held[key] ?? 0) + (low <= truth[key] && truth[key] <= high ? 1 : 0);
      }
    }
    const share = Object.fromEntries(KEYS.map((key) => [key, held[key] / patients]));
    const least = 0.95 - 3 * Math.sqrt((0.95 * 0.05) / patients);
    for (const key of KEYS) expect([key, share[key] >= least, share[key]]).toEqual([key, true, share[key]]);
  });
});
