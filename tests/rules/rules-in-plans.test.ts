import { expect, it } from 'vitest';
import type { Case, Part } from '../../src/case/case.js';
import type { CmH2O, Percent } from '../../src/foundation/unit-types.js';
import { planReadiness } from '../../src/plan/readiness.js';
import { urgentPlan } from '../../src/plan/urgent.js';
import { planResection } from '../../src/resection/plan-resection.js';
import { type Rule, type RuleKind, rulesOf } from '../../src/rules/rule.js';
import { inputOf, RULES, type Row, row, rowsOf, settings } from '../plan/make.js';
import { lesionOf, makeCase } from '../resection/make.js';

// Every rule that becomes a sentence of the plan is shown to some patient, and one with a condition is not shown to another.
// The sentences of the family's sheet are covered in tests/plan/counselling.test.ts, checklist items in checklist.test.ts.

const patient = (more: Partial<Case['patient']>): Partial<Case> => ({
  patient: { history: [], hht: {}, spirometry: {}, allergies: [], ageYears: 46, ...more },
});
const systemic: Part = {
  name: 'S1',
  role: 'systemic-feeder',
  mesh: { relative: 's.stl', absolute: 's.stl' },
  spare: false,
  path: 'p',
};
const NOW = { bleeding: { now: 'yes' } } as const;

/** Patients in addition to those of the tables: what to change in a row, and in its case. */
const MORE: [Row, Partial<Case>][] = [
  [{}, {}],
  [{}, { planned: { approach: 'resect', date: '2026-04-02' } }],
  [{ after: '0.02' }, {}],
  [{ after: '0.12' }, {}],
  [{ history: 'epistaxis hht-family' }, {}],
  [{ feeders: '8.5:20' }, {}],
  [{ mean_pa: '' }, {}],
  [{ allergies: '' }, {}],
  [{}, { ...NOW, ...patient({ pregnant: 'yes' }) }],
  [{}, { ...NOW, ...patient({ pregnant: 'unknown', sex: 'female' }) }],
  [{}, { ...NOW, ...patient({ anticoagulated: 'yes' }) }],
  [{}, { ...NOW, ...patient({ anticoagulated: 'no' }) }],
  [{}, { ...NOW, ...patient({ anticoagulated: 'unknown' }) }],
  [{}, { ...NOW, ...patient({ ageYears: 6 }) }],
  [{}, { ...NOW, lesion: { segments: [] } }],
  ...(['airway', 'chest', 'both', 'unknown'] as const).flatMap((into) =>
    (['yes', 'no', 'unknown'] as const).map((stable): [Row, Partial<Case>] => [
      {},
      { bleeding: { now: 'yes', into, stable } },
    ]),
  ),
  ...['', '-', 'P8', 'P8.6o'].flatMap((shelf): [Row, Partial<Case>][] => [
    [{ shelf }, {}],
    [{ shelf }, NOW],
  ]),
  [{ systemic: '1' }, NOW],
  [{ feeders: 'closed' }, NOW],
  [{ feeders: 'closed', treated: '2025-06-12', scan: '2026-03-14' }, {}],
];

const INPUTS = [
  ...rowsOf('decisions.csv').map((entry) => inputOf(entry)),
  ...rowsOf('advice.csv').map(({ set }) => inputOf(row(settings(set)))),
  ...MORE.map(([more, patientCase]) => inputOf(row(more), patientCase)),
];
const plain = inputOf(row());
const [, chosen] = Object.entries(plain.devices ?? {})[0];
INPUTS.push(
  { ...plain, devices: { A1: { ...chosen, borderline: true, needs_lumen_mm: 1.8 } } },
  { ...plain, resection: { spare: [], steps: [], predicted_fev1_percent: 29, predicted_dlco_percent: 29 } },
);
const READY = INPUTS.map((input) => planReadiness(input).readiness);

/**
 * Rules of a kind that nobody is told, and those with a condition that everybody is told; `said` lists what each patient is
 * told.
 */
function outOfPlace(kind: RuleKind, said: readonly (readonly string[])[], wordsOf = wordsIn): string[] {
  return rulesOf(RULES, kind).flatMap((rule) => {
    const told = said.filter((texts) =>
      wordsOf(rule).some((wanted) => texts.some((text) => wanted.test(text))),
    );
    const isConditional = 'when' in rule && rule.when !== undefined;
    if (told.length === 0) return [`${rule.id} is said to nobody`];
    return isConditional && told.length === said.length ? [`${rule.id} is said to everybody`] : [];
  });
}

/** The texts of a rule, with anything where a value is filled in. */
function wordsIn(rule: Rule): RegExp[] {
  const texts = rule.kind === 'need' ? [rule.text, rule.missing ?? rule.text] : [rule.text];
  return texts.map(
    (text) => new RegExp(`^${text.replace(/[.*+?^$()|[\]\\]/g, '\\$&').replace(/\{[^}]*\}/g, '[^]*?')}`),
  );
}

it('needs: available for some patient and not for another', () => {
  const said = READY.map(({ plan_a: a, plan_b: b }) =>
    [a, b].flatMap(({ missing, unknown = [] }) => [...missing, ...unknown]),
  );
  expect(outOfPlace('need', said)).toEqual([]);
});

it('triggers: each is in the plan of some patient', () => {
  const said = READY.map(({ triggers = [] }) => triggers.map(({ id }) => `trigger-${id}`));
  const byId = (rule: Rule) => [new RegExp(`^${rule.id}$`)];
  expect(outOfPlace('trigger', said, byId).filter((line) => line.endsWith('nobody'))).toEqual([]);
  // where it has a condition, it applies to some patient and not to another
  const applying = READY.map(({ triggers = [] }) =>
    triggers.filter(({ applies }) => applies).map(({ id }) => `trigger-${id}`),
  );
  const conditional = rulesOf(RULES, 'trigger').filter(({ when }) => when !== undefined);
  const never = conditional.filter(({ id }) => !applying.some((ids) => ids.includes(id)));
  expect(never.map(({ id }) => id)).toEqual([]);
  expect(outOfPlace('trigger', applying, byId).filter((line) => line.endsWith('everybody'))).toEqual([]);
});

it('follow-up: each visit and test', () => {
  expect(
    outOfPlace(
      'follow-up',
      READY.map(({ follow_up = [] }) => follow_up.map(({ what }) => what)),
    ),
  ).toEqual([]);
});

it('steps for the hour of a bleed', () => {
  const said = INPUTS.map((input) =>
    urgentPlan({
      ...input,
      lesion: input.lesion ?? lesionOf([]),
      shelf: { asOf: '2026-03-20', devices: [] },
      order: [],
    }).urgent.steps.map(({ text }) => text),
  );
  expect(outOfPlace('urgent', said)).toEqual([]);
});

it('steps and structures to keep of plan B, for every lobe and extent', () => {
  const segments = (...names: string[]): Case['surgery'] => ({ extent: 'segments', segments: names });
  const bilobar = [
    ['right', segments('S1', 'S2', 'S3', 'S4', 'S5')],
    ['right', segments('S4', 'S5', 'S6', 'S7', 'S8', 'S9', 'S10')],
  ] as const;
  const places = [
    ...(['upper', 'middle', 'lower'] as const).map((lobe) => ({ side: 'right', lobe }) as const),
    ...(['upper', 'lingula', 'lower'] as const).map((lobe) => ({ side: 'left', lobe }) as const),
  ];
  const patients: Partial<Case>[] = [
    {},
    patient({ pregnant: 'yes' }),
    { surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts: [systemic] } },
    { surfaces: { unit: 'mm', unitMm: 1, frame: 'LPS', parts: [] } },
  ];
  const surgeries: Case['surgery'][] = [
    {},
    segments('S8'),
    { extent: 'wedge', segments: ['S8'] },
    { oneLungVentilation: 'no', leakTest: { cmH2O: 30 as CmH2O, asWritten: '30 cmH2O' } },
  ];
  const lesions = [
    ...places.flatMap((place) => surgeries.map((surgery) => ({ place, surgery }))),
    ...bilobar.map(([side, surgery]) => ({ place: { side }, surgery })),
  ];
  const plans = patients.flatMap((more) =>
    lesions.flatMap(({ place, surgery }) =>
      ([30, 90] as Percent[]).map(
        (percent) =>
          planResection({
            case: makeCase({ ...more, lesion: { ...place, segments: [] }, surgery }),
            rules: RULES,
            lungFunction: { fev1Percent: percent, dlcoPercent: percent },
          }).resection,
      ),
    ),
  );
  const byId = (rule: Rule) => [new RegExp(`^${rule.id}$`)];
  expect(
    outOfPlace(
      'step',
      plans.map(({ steps }) => steps.map(({ id }) => id)),
      byId,
    ),
  ).toEqual([]);
  expect(
    outOfPlace(
      'keep',
      plans.map(({ at_stake = [] }) => at_stake.map(({ text }) => text)),
    ),
  ).toEqual([]);
});
