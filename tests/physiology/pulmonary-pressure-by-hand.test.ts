import { describe, expect, it } from 'vitest';
import { judgePressure, pulmonaryPressureFindings } from '../../src/physiology/pulmonary-pressure.js';
import { RULES } from './make.js';

describe('the pulmonary pressure before anything is closed', () => {
  const judge = (
    mean: number | undefined,
    wedge: number | undefined,
    output: number | undefined,
    fraction?: number,
    interval?: [number, number],
  ) =>
    judgePressure(
      { meanPaPressureMmHg: mean, wedgePressureMmHg: wedge, cardiacOutputLMin: output },
      fraction === undefined && interval === undefined ? undefined : { fraction, interval },
      RULES,
    );

  it.each<[number | undefined, number | undefined, number | undefined]>([
    [10, 10, 5],
    [10, 11, 5],
    [20, undefined, 5],
    [20, 10, undefined],
    [20, 10, 0],
  ])('no resistance of %d mmHg, wedge %d mmHg, output %d L/min', (mean, wedge, output) => {
    expect(judge(mean, wedge, output, 0.2)).toMatchObject({
      resistanceWu: undefined,
      bedResistanceWu: undefined,
    });
  });

  it('the bed carries what the shunt does not, and its interval follows that of the shunt', () => {
    // (26 - 8) / 6 = 3 Wood units; over 1 - f
    const at = (fraction: number | undefined, interval?: [number, number]) =>
      judge(26, 8, 6, fraction, interval);
    expect(at(0.25, [0.2, 0.4])).toMatchObject({ resistanceWu: 3, bedResistanceWu: 4 });
    expect(at(0.25, [0.2, 0.4])!.bedIntervalWu![0]).toBeCloseTo(3.75, 12);
    expect(at(0.25, [0.2, 0.4])!.bedIntervalWu![1]).toBeCloseTo(5, 12);
    // an end below zero is zero; with all shunt there is no bed
    expect(at(0.25, [-0.1, 0.4])!.bedIntervalWu![0]).toBe(3);
    expect(at(0.25, [0.2, 1])!.bedIntervalWu).toBeUndefined();
    expect(at(undefined, [0.2, 0.4])).toMatchObject({ bedResistanceWu: undefined, bedIntervalWu: undefined });
    expect(at(0)!.bedResistanceWu).toBe(3);
    expect(at(-0.01)!.bedResistanceWu).toBeUndefined();
    expect(at(1)!.bedResistanceWu).toBeUndefined();
  });

  it('is given in one sentence', () => {
    expect(judge(26, 8, 6, 0.25, [0.2, 0.4])!.text).toBe(
      'Mean pulmonary artery pressure 26 mmHg, wedge 8 mmHg, output 6.0 L/min: pre-capillary, resistance 3.0, of the normal bed 4.0 (3.8 to 5.0) Wood units',
    );
    expect(judge(26, 8, 6, 0.25)!.text).toContain('of the normal bed 4.0 Wood units');
    expect(judge(26, 8, 6)!.text).toContain(
      'resistance 3.0, of the normal bed not known without a shunt Wood units',
    );
    expect(judge(26, undefined, undefined)!.text).toBe(
      'Mean pulmonary artery pressure 26 mmHg, wedge not given, output not given, not classifiable',
    );
    expect(judge(18, undefined, undefined)!.text).toBe(
      'Mean pulmonary artery pressure 18 mmHg, wedge not given, output not given',
    );
  });

  it.each<[string, Parameters<typeof judge>, string[], string?]>([
    ['none', [undefined, 8, 6], []],
    ['normal', [18, 8, 6], []],
    ['normal, wedge 15 mmHg', [18, 15, 6], []],
    [
      'normal, wedge above 15 mmHg',
      [18, 15.1, 6],
      ['caution wedge-raised circulation.wedge_pressure'],
      'Wedge above 15 mmHg: heart, anaemia and liver first.',
    ],
    [
      'raised',
      [26, 8, 6],
      ['caution pulmonary-hypertension circulation.mean_pa_pressure'],
      'A relative contraindication',
    ],
    [
      'raised, of cardiac origin',
      [26, 18, 6],
      ['caution pulmonary-hypertension circulation.mean_pa_pressure'],
      'heart, anaemia and liver first.',
    ],
    [
      'raised, wedge unknown',
      [26, undefined, 6],
      ['caution pulmonary-hypertension circulation.mean_pa_pressure'],
      'Not classifiable: wedge pressure or output is missing.',
    ],
    [
      'severe',
      [35, 8, 6],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
      'Neither closing nor resecting',
    ],
    [
      'severe, wedge unknown',
      [35, undefined, 6],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
      'Measure wedge and output (right heart catheter).',
    ],
    [
      'severe by the resistance',
      [29, 8, 4],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
      'Neither closing',
    ],
    ['a resistance of 5', [28, 8, 4], ['caution pulmonary-hypertension circulation.mean_pa_pressure']],
    [
      'severe by the resistance of the bed',
      [28, 8, 4, 0.1],
      ['stop pulmonary-hypertension circulation.mean_pa_pressure'],
    ],
    ['a high resistance at a normal pressure', [19, 2, 3], []],
  ])('%s', (_, given, expected, words = '') => {
    const found = pulmonaryPressureFindings(judge(...given), RULES);
    expect(found.map(({ level, id, where }) => `${level} ${id} ${where}`)).toEqual(expected);
    if (expected.length > 0) expect(found[0].text).toContain(words);
  });

  it('a resistance close to its limit has enough decimal places to distinguish it from the limit', () => {
    // 20.12 / 4
    expect(judge(28.12, 8, 4)!.text).toContain('resistance 5.03,');
    expect(judge(28.12, 8, 4, 0.2)!.text).toContain('of the normal bed 6.3 Wood units');
  });

  it('which advice goes with which', () => {
    const text = (...given: Parameters<typeof judge>): string =>
      pulmonaryPressureFindings(judge(...given), RULES)[0].text;
    expect(text(26, 8, 6)).not.toMatch(/heart, anaemia and liver first|Not classifiable/);
    expect(text(26, undefined, 6)).not.toContain('contraindication');
    expect(text(35, 8, 6)).not.toMatch(/right heart catheter|liver first/);
    const bleeding = pulmonaryPressureFindings(judge(18, 8, 6), RULES, true);
    expect(bleeding).toEqual([]);
  });
});
