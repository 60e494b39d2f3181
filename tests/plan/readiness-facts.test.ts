import { describe, expect, it } from 'vitest';
import { AT_HAND_ITEMS } from '../../src/case/case.js';
import { planFacts } from '../../src/plan/readiness-facts.js';
import { FACTS } from '../../src/rules/facts.js';
import { vessel } from '../resection/make.js';
import { inputOf, row } from './make.js';

/** Facts about one feeder and about one decision; devices, readiness and resection fill them in. */
const ELSEWHERE = /^feeder\.|^planned\.recommended$|^devices\.nickel$|^resection\.taken$/;

const full = () => {
  const input = inputOf(
    row({ feeders: '6.2:20 5:20', shelf: 'P8.6 P7o', after: '0.04', history: 'stroke' }),
    {
      patient: {
        history: ['stroke'],
        hht: { epistaxis: 'yes' },
        spirometry: { fev1Percent: 88, dlcoPercent: 74 },
        ageYears: 46,
        sex: 'female',
        weightKg: 62,
        heightCm: 168,
        pregnant: 'no',
        anticoagulated: 'yes',
        anticoagulant: { agent: 'warfarin', lastDose: '2026-03-14' },
        bloodGroup: 'A pos',
        oximetry: { lyingFraction: 0.9 },
        allergies: [],
        egfrMlMin173: 90,
      },
      blood: {
        haemoglobinGDl: 19.8,
        haematocritFraction: 0.58,
        ferritinUgL: 12,
        transferrinSaturationFraction: 0.14,
      },
      bleeding: { now: 'yes', stable: 'yes', into: 'chest' },
      circulation: { meanPaPressureMmHg: 18, wedgePressureMmHg: 9, cardiacOutputLMin: 6 },
      gases: [
        { name: 'air', when: 'before', site: 'arterial', fio2: 0.21, so2Fraction: 0.88, path: 'gases[0]' },
      ],
      surgery: { oneLungVentilation: 'yes', leakTest: { cmH2O: 25, asWritten: '25 cmH2O' } },
      atHand: Object.fromEntries(AT_HAND_ITEMS.map((item) => [item, 'yes'])),
      surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts: [] },
      lesion: { side: 'left', lobe: 'lower', segments: [], otherLesions: 'no' },
      team: [{ role: 'hyperbaric_centre', contact: '5550100' }],
    },
  );
  input.lesion?.vessels.push(vessel('V1', { role: 'drain', calibreMm: { min: 7, mean: 8, max: 9 } }));
  const needsLumen = Object.values(input.devices ?? {})[0];
  needsLumen.needs_lumen_mm = 1.8;
  return planFacts({
    ...input,
    shunt: { fraction: 0.31, method: 'content', assumed: [] },
    closure: [
      { closed: ['A1'], shunt_fraction: 0.2 },
      { closed: ['A1', 'A2'], shunt_fraction: 0.06, mean_pa_pressure_mmhg: 21 },
    ],
    resection: { spare: [], steps: [], predicted_fev1_percent: 61, predicted_dlco_percent: 55 },
    missed: [{ kind: 'feeder-candidate' }],
    surfaceStops: ['A2'],
  });
};

describe('facts', () => {
  it('a complete patient fills the whole catalogue, and nothing outside it', () => {
    const facts = full();
    const open = Object.keys(FACTS).filter((name) => facts[name] === undefined && !ELSEWHERE.test(name));
    expect(open).toEqual([]);
    expect(Object.keys(facts).filter((name) => !Object.hasOwn(FACTS, name))).toEqual([]);
  });
  it('have the values of the case', () => {
    expect(full()).toMatchObject({
      'circulation.resistance': 1.5,
      'curacao.score': 2,
      'closure.shunt_words': '6.0 %',
      'closure.mean_pa': 21,
      'shunt.room_air_saturation': 88,
      'devices.ready': 1,
      'patient.anticoagulant': 'warfarin, last dose 2026-03-14',
      'patient.usual_saturation': 90,
      'bleeding.airway': 'no',
      'bleeding.chest': 'yes',
      'stock.closes_names': ['A1'],
      'stock.lacks': 1,
      'stock.lacks_names': ['A2'],
      'devices.waiting_names': ['A2'],
      'devices.ready_by': '2026-04-10',
      'devices.late': 'yes',
      'lesion.largest_feeder': 6.2,
      'lesion.largest_drain': 8,
    });
  });
  it('an empty case fills in none by default', () => {
    const facts = planFacts(
      inputOf(row({ feeders: '', shelf: '', kind: '', mean_pa: '', age: '', pregnant: '', allergies: '' })),
    );
    const known = Object.entries(facts)
      .filter(([, value]) => value !== undefined)
      .map(([name]) => name);
    expect(known.sort()).toEqual([
      'bleeding.active',
      'bleeding.airway',
      'bleeding.chest',
      'bleeding.stable',
      'blood.order',
      'case.states_differ',
      'case.unanswered',
      'case.unanswered_names',
      'contrast.notes',
      'curacao.answered',
      'curacao.open',
      'curacao.reading',
      'curacao.score',
      'devices.shelf',
      'history.bleeding',
      'history.brain',
      'history.pressure',
      'lesion.lobe',
      'lesion.none_open',
      'lesion.other_side',
      'lesion.place',
      'lesion.segments',
      'lesion.side',
      'lesion.state',
      'patient.blood_group',
      'patient.child',
      'patient.gestation',
      'patient.history',
      'patient.pregnancy',
      'planned.approach',
      'planned.date',
    ]);
  });
});
