import { describe, expect, it } from 'vitest';
import { isBleeding } from '../../src/case/bleeding.js';
import { judgePressure, pulmonaryPressureFindings } from '../../src/physiology/pulmonary-pressure.js';
import { buildChecklist } from '../../src/plan/checklist.js';
import { planReadiness } from '../../src/plan/readiness.js';
import { inputOf, RULES, row, rowsOf, settings } from './make.js';

const TABLE = rowsOf('advice.csv');

/** The advice on one patient, with every finding that the plan derives from it. */
function advise(set: string) {
  const input = inputOf(row(settings(set)));
  const { readiness, findings } = planReadiness(input);
  const pressure = judgePressure(input.case.circulation, input.shunt, RULES);
  const checklist = buildChecklist(input);
  const all = [
    ...pulmonaryPressureFindings(pressure, RULES, isBleeding(input.case)),
    ...findings,
    ...checklist.findings,
  ];
  return { readiness, findings: all, checklist: checklist.checklist };
}

describe('advice on a patient', () => {
  it.each(TABLE.map((entry) => [entry.id, entry] as const))('%s', (_, entry) => {
    const { readiness, findings } = advise(entry.set);
    expect(readiness.recommended).toBe(entry.recommend);
    expect(readiness.decided_by).toBe(entry.rule);
    expect(findings.filter(({ level }) => level === 'stop').map(({ id }) => id)).toEqual(
      entry.stops === '' ? [] : entry.stops.split(' '),
    );
    const said = [...readiness.because, ...findings.map(({ text }) => text)].join('\n');
    for (const words of entry.says.split('; ').filter((part) => part !== '')) expect(said).toContain(words);
    expect(said).not.toMatch(/[{}]|undefined|NaN/);
  });

  it('has at least 40 patients, each with its own id', () => {
    expect(TABLE.length).toBeGreaterThanOrEqual(40);
    expect(new Set(TABLE.map(({ id }) => id)).size).toBe(TABLE.length);
  });
});

describe('while it bleeds', () => {
  const bleeds = advise(
    'bleeding=now stable=yes pregnant=yes allergies=iodinated-contrast mean_pa=45 wedge=8 output=4.5 egfr=20',
  );

  it('pregnancy, allergies, kidneys and pressure say that they do not delay, and none of them is a stop', () => {
    for (const id of ['pregnancy', 'contrast-allergy-item', 'pulmonary-pressure'])
      expect(bleeds.checklist.find((item) => item.id === id)).toMatchObject({
        level: 'caution',
        because: expect.stringContaining('does not delay'),
      });
    expect(bleeds.readiness.because.filter((reason) => reason.includes('does not delay'))).toHaveLength(4);
    expect(bleeds.readiness.because[0]).toMatch(/^Bleeding now/);
  });

  it('readiness.because names the bleed and the pregnancy', () => {
    expect(bleeds.readiness.because.join(' ')).toMatch(/Bleeding now.*Pregnant/);
  });
});

describe('what rules out closing by pressure', () => {
  it('does not affect the material readiness of plan B', () => {
    const calm = advise('isolation=yes').readiness.plan_b;
    expect(advise('isolation=yes mean_pa=45 wedge=8 output=4.5').readiness.plan_b).toEqual(calm);
  });

  it('does not ask for a catheter study that the case already has', () => {
    const whole = advise('mean_pa=45 wedge=8 output=4.5');
    const half = advise('mean_pa=45');
    const said = ({ findings, readiness }: typeof whole): string =>
      [...findings.map(({ text }) => text), ...readiness.because].join(' ');
    expect(said(whole)).not.toMatch(/catheter/);
    expect(said(half)).toMatch(/Measure wedge and output \(right heart catheter\)/);
  });

  it('the test occlusion is no longer a trigger', () => {
    const triggers = advise('').readiness.triggers ?? [];
    expect(triggers.map(({ text }) => text).join(' ')).not.toMatch(/occlusion|8 mmHg/);
  });
});
