import { describe, expect, it } from 'vitest';
import { bodyFacts } from '../../src/plan/body-facts.js';
import { contrastLimits } from '../../src/plan/checklist-contrast.js';
import { readCheckValues } from '../check-values/read-check-values.js';
import { makeCase } from '../resection/make.js';
import { RULES } from './make.js';

type Given = Parameters<typeof contrastLimits>[0];
const namesOf = (given: Given) => contrastLimits(given, RULES).limits.map((limit) => limit.name);
const notesOf = (given: Given) => contrastLimits(given, RULES).notes.join('; ');
const factsOf = (patient: Given) =>
  bodyFacts(makeCase({ patient: { history: [], hht: {}, spirometry: {}, ...patient } }), RULES);

describe('contrast limits against their table', () => {
  for (const row of readCheckValues('contrast')) {
    it(`${row.id}: ${row.source}`, () => {
      const given: Given = {
        ageYears: row.input('age'),
        weightKg: row.input('weight'),
        heightCm: row.input('height'),
        egfrMlMin173: row.input('egfr'),
        creatinineUmolL: row.input('creatinine'),
        pregnant: row.word('pregnant') === 'yes' ? 'yes' : undefined,
      };
      const name = row.word('limit');
      const value =
        name === 'smallest'
          ? factsOf(given)['contrast.smallest']
          : contrastLimits(given, RULES).limits.find((limit) => limit.name === name)?.limitMl;
      expect(Math.abs(Number(value) - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});

describe('which contrast limits apply', () => {
  const adult = { ageYears: 18, weightKg: 60, heightCm: 165, egfrMlMin173: 80, creatinineUmolL: 90 };
  const byFiltration = ['Nyman 2008', 'Nie 2021', 'Laskey 2007', 'ESUR 10.0', 'ESUR 10.0 by iodine'];

  it('both sides of 18 years: the formula by creatinine, or a child’s limit by weight', () => {
    expect(namesOf(adult)).toEqual(['Cigarroa 1989', ...byFiltration]);
    expect(namesOf({ ...adult, ageYears: 17.99 })).toEqual(['child by weight', ...byFiltration]);
    expect(notesOf({ ...adult, ageYears: 17.99 })).toContain('applies from 18 years');
    expect(namesOf({ ...adult, ageYears: undefined })).toEqual(byFiltration);
  });

  it('none by eGFR in pregnancy, with a note; unknown keeps them', () => {
    expect(namesOf({ ...adult, pregnant: 'yes' })).toEqual(['Cigarroa 1989']);
    expect(notesOf({ ...adult, pregnant: 'yes' })).toContain('do not hold in pregnancy');
    expect(namesOf({ ...adult, pregnant: 'unknown' })).toContain('Nie 2021');
  });

  it('says what could not be computed, and is silent where nothing is known', () => {
    expect(notesOf({ ...adult, heightCm: undefined })).toContain(
      'without height and weight there is no absolute one',
    );
    expect(notesOf({ ...adult, weightKg: undefined })).toContain('the weight is not given');
    expect(notesOf({ ageYears: 9, egfrMlMin173: 110 })).toContain('weight of the child is not given');
    expect(namesOf({ weightKg: 70 })).toEqual([]);
    expect(factsOf({ weightKg: 70 })['contrast.smallest']).toBeUndefined();
  });

  it('no limit is higher in a smaller body', () => {
    for (const heightCm of [100, 130, 160, 190])
      for (const weightKg of [16, 30, 60, 100]) {
        const smaller = factsOf({ ...adult, heightCm, weightKg })['contrast.smallest'];
        const larger = factsOf({ ...adult, heightCm: heightCm + 5, weightKg: weightKg + 3 })[
          'contrast.smallest'
        ];
        expect(Number(smaller)).toBeLessThanOrEqual(Number(larger));
      }
  });
});

describe('blood to be crossmatched', () => {
  const orderOf = (patient: Given) => factsOf(patient)['blood.order'];
  it.each([
    [{ ageYears: 18, weightKg: 28 }, '2 to 4 units'],
    [{ ageYears: 17.99, weightKg: 28 }, '20 to 40 mL/kg, that is 560 to 1120 mL at 28 kg'],
    [{ ageYears: 9 }, '20 to 40 mL/kg (the weight is not stated)'],
    [{}, '2 to 4 units (adult) or 20 to 40 mL/kg (child; the age is not stated)'],
  ])('%j: %s', (patient, words) => expect(orderOf(patient)).toBe(words));
});
