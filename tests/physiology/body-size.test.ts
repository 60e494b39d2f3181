import { describe, expect, it } from 'vitest';
import type { Patient } from '../../src/case/case.js';
import { assumedAvDifference } from '../../src/physiology/assumed-av-difference.js';
import { assumedOutput } from '../../src/physiology/assumed-output.js';
import { absoluteFiltration, bodySurfaceM2 } from '../../src/physiology/body-surface.js';
import { closureTable } from '../../src/physiology/closure-table.js';
import { predictedUptake } from '../../src/physiology/predicted-uptake.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { readCheckValues, worked } from '../check-values/read-check-values.js';
import { closureCaseOf, feedersOf } from './make.js';

const outputOf = (patient: Parameters<typeof assumedOutput>[0]) => {
  const answer = assumedOutput(patient);
  return 'output' in answer ? answer.output : undefined;
};

describe('body size against its table', () => {
  for (const row of readCheckValues('body-size')) {
    it(`${row.id}: ${row.source}`, () => {
      const patient = {
        heightCm: row.need('height'),
        weightKg: row.need('weight'),
        ageYears: row.input('age'),
        sex: (row.word('sex') || undefined) as Patient['sex'],
      };
      const surface = bodySurfaceM2(patient) ?? Number.NaN;
      const uptake = predictedUptake(patient);
      const difference = assumedAvDifference(patient);
      const value = worked(row, {
        surface: () => surface,
        absolute: () => absoluteFiltration(row.need('indexed'), surface),
        output: () => outputOf(patient)?.lMin,
        index: () => (outputOf(patient)?.lMin ?? Number.NaN) / surface,
        uptake: () => ('uptake' in uptake ? uptake.uptake.mlMin : undefined),
        difference: () => ('difference' in difference ? difference.difference.mlDl : undefined),
      });
      expect(Math.abs(value - row.expected)).toBeLessThanOrEqual(row.tolerance);
    });
  }
});

describe('what is not predicted says why', () => {
  const CHILD = { heightCm: 134, weightKg: 28, ageYears: 9, sex: 'female' as const };

  it('no surface without both height and weight', () => {
    expect(bodySurfaceM2({ heightCm: 134 })).toBeUndefined();
    expect(bodySurfaceM2({ weightKg: 28 })).toBeUndefined();
  });

  it('both sides of one year and of eighteen', () => {
    const infant = { heightCm: 75, weightKg: 9, sex: 'male' as const };
    expect(assumedOutput({ ...infant, ageYears: 0.99 })).toEqual({
      absentBecause: expect.stringContaining('one year'),
    });
    expect(outputOf({ ...infant, ageYears: 1 })?.lMin).toBeCloseTo(3.4 * 0.4377, 2);
    expect(predictedUptake({ ...infant, ageYears: 0.99 })).toHaveProperty('absentBecause');
    const tall = { heightCm: 170, weightKg: 70 };
    expect(outputOf({ ...tall, ageYears: 17.99 })?.lMin).toBeCloseTo(3.4 * 1.8097, 2);
    expect(outputOf({ ...tall, ageYears: 18 })?.lMin).toBe(5);
  });

  it('a child without size gets no output and no difference, never those of an adult', () => {
    const noHeight = { ...CHILD, heightCm: undefined };
    expect(assumedOutput(noHeight)).toEqual({ absentBecause: expect.stringContaining('height and weight') });
    expect(assumedAvDifference(noHeight)).toHaveProperty('absentBecause');
  });

  it('no uptake is predicted in pregnancy', () => {
    expect(predictedUptake({ ...CHILD, ageYears: 30, pregnant: 'yes' })).toEqual({
      absentBecause: expect.stringContaining('pregnancy'),
    });
    expect(predictedUptake({ ...CHILD, ageYears: 30, pregnant: 'no' })).toHaveProperty('uptake');
    expect(assumedAvDifference({ ...CHILD, ageYears: 16, pregnant: 'yes' })).toHaveProperty('absentBecause');
  });

  it('the output of a child is 2.4 to 4.6 L/min per m2 from one year up, with its interval of 30 %', () => {
    for (const [ageYears, heightCm, weightKg] of [
      [1, 75, 9.5],
      [5, 110, 18],
      [12, 150, 42],
      [17, 178, 68],
    ]) {
      const output = outputOf({ ageYears, heightCm, weightKg });
      const index = (output?.lMin ?? 0) / (bodySurfaceM2({ heightCm, weightKg }) ?? 1);
      expect(index).toBeGreaterThan(2.4);
      expect(index).toBeLessThan(4.6);
      expect(output?.intervalLMin[0]).toBeCloseTo(0.7 * (output?.lMin ?? 0), 9);
      expect(output?.intervalLMin[1]).toBeCloseTo(1.3 * (output?.lMin ?? 0), 9);
    }
  });

  it('closure takes the output of the child, and gives no flows where none is assumed', () => {
    const tableFor = (patient: Partial<Patient>) =>
      closureTable({
        vessels: feedersOf('5x60 5x60'),
        rules: loadRules(),
        shunt: {
          fraction: 0.3,
          interval: [0.26, 0.35],
          method: 'content',
          assumed: [],
          av_difference_ml_dl: 5,
        },
        case: closureCaseOf({
          circulation: {},
          patient: { history: [], hht: {}, spirometry: {}, ...patient },
        }),
      });
    const child = tableFor(CHILD).rows[0];
    expect(child.remaining?.A2.flow_l_min).toBeCloseTo(3.508 * 0.17647, 3);
    expect(child.assumed?.join()).toContain('3.51 L/min, 3.4 L/min per m2 of 1.03 m2');
    const adult = tableFor({ ...CHILD, ageYears: 46 }).rows[0];
    expect(adult.remaining?.A2.flow_l_min).toBeCloseTo(5 * 0.17647, 3);
    const noSize = tableFor({ ageYears: 9, weightKg: 28 });
    expect(noSize.rows[0].remaining).toBeUndefined();
    expect(noSize.rows[0].cardiac_output_l_min).toBeUndefined();
    expect(noSize.rows[0].mean_pa_pressure_mmhg).toBeDefined();
    expect(noSize.rows[0].assumed?.join()).toContain('no cardiac output');
    expect(noSize.findings.map((f) => f.id)).not.toContain('feeder-flow');
  });
});
