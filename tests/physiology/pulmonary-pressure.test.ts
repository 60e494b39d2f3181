import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { judgePressure, pulmonaryPressureFindings } from '../../src/physiology/pulmonary-pressure.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { rowsOf } from '../plan/make.js';

const RULES = loadRules();
const TABLE = rowsOf('../check-values/pulmonary-pressure.csv');
const orNothing = (text: string): number | undefined => (text === '' ? undefined : Number(text));

describe('pulmonary pressure, check values', () => {
  it.each(
    TABLE.map((row) => [`${row.mean_mmhg} ${row.wedge_mmhg} ${row.output_l_min} ${row.shunt}`, row] as const),
  )('%s', (_, row) => {
    const judged = judgePressure(
      {
        meanPaPressureMmHg: orNothing(row.mean_mmhg),
        wedgePressureMmHg: orNothing(row.wedge_mmhg),
        cardiacOutputLMin: orNothing(row.output_l_min),
      },
      row.shunt === '' ? undefined : { fraction: Number(row.shunt) },
      RULES,
    );
    expect(judged?.reading).toBe(row.reading);
    expect(judged?.class ?? '').toBe(row.class);
    for (const [value, text] of [
      [judged?.resistanceWu, row.resistance_wu],
      [judged?.bedResistanceWu, row.bed_wu],
    ] as const) {
      if (text === '') expect(value).toBeUndefined();
      else expect(value).toBeCloseTo(Number(text), 2);
    }
  });
});

describe('what is reported', () => {
  const circulation = { meanPaPressureMmHg: 34, wedgePressureMmHg: 8, cardiacOutputLMin: 3.8 };
  const shunt = { fraction: 0.2, interval: [0.15, 0.26] as [number, number] };

  it('a stop names closing and resecting, the risk of leaving it open, and the interval of the bed', () => {
    const [found] = pulmonaryPressureFindings(judgePressure(circulation, shunt, RULES), RULES);
    expect(found).toMatchObject({ level: 'stop', id: 'pulmonary-hypertension' });
    expect(found.text).toContain('resistance 6.8, of the normal bed 8.6 (8.0 to 9.2) Wood units');
    expect(found.text).toContain('Neither closing nor resecting');
    expect(found.text).toContain('Leaving the lesion open has its own risk');
    expect(found.text).not.toContain('catheter');
  });

  it('nothing without a pressure, nothing at a normal one', () => {
    expect(judgePressure({}, shunt, RULES)).toBeUndefined();
    expect(pulmonaryPressureFindings(undefined, RULES)).toEqual([]);
    const normal = judgePressure(
      { meanPaPressureMmHg: 18, wedgePressureMmHg: 9, cardiacOutputLMin: 5 },
      shunt,
      RULES,
    );
    expect(pulmonaryPressureFindings(normal, RULES)).toEqual([]);
  });

  it('while it bleeds it does not delay, and is not a stop', () => {
    const [found] = pulmonaryPressureFindings(judgePressure(circulation, shunt, RULES), RULES, true);
    expect(found).toMatchObject({ level: 'caution', text: expect.stringContaining('does not delay') });
  });

  it('a hospital’s own limits lift the stop', () => {
    const folder = mkdtempSync(join(tmpdir(), 'pressure-'));
    const rule = (id: string, value: number, unit: string): string =>
      `  - { id: ${id}, kind: number, value: ${value}, unit: ${unit}, text: ours, source: "local: protocol 7" }\n`;
    writeFileSync(
      join(folder, 'ours.yaml'),
      `format: pavm-rules/1\nrules:\n${rule('severe-pulmonary-hypertension', 45, 'mmHg')}${rule('severe-pulmonary-resistance', 7, 'Wood units')}`,
    );
    const ours = loadRules(folder);
    rmSync(folder, { recursive: true });
    for (const measured of [circulation, { meanPaPressureMmHg: 40 }]) {
      expect(judgePressure(measured, undefined, RULES)?.reading).toBe('severe');
      expect(judgePressure(measured, undefined, ours)?.reading).not.toBe('severe');
      expect(pulmonaryPressureFindings(judgePressure(measured, undefined, ours), ours)[0].level).toBe(
        'caution',
      );
    }
  });
});
