import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import type { Result } from '../../src/result/result.generated.js';
import { pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-limits-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** Plans a case without surfaces or gases. */
function planned(patient: string, circulation: string, more = ''): { code: number | null; result: Result } {
  const file = join(work, 'case.yaml');
  writeFileSync(
    file,
    `format: pavm-case/1
id: limits
title: A number beside its limit
purpose: demo
scan: { date: 2026-03-14 }
patient: ${patient}
circulation: ${circulation}
lesion: { side: left, lobe: lower }
${more}`,
  );
  const ran = pavm(['plan', file, '--out', join(work, 'plan'), '--json']);
  return { code: ran.code, result: JSON.parse(ran.stdout) };
}

const finding = ({ result }: ReturnType<typeof planned>, id: string) =>
  result.findings.find((entry) => entry.id === id);

describe('a number of the case close to a limit is printed as written, not rounded onto the limit', () => {
  it.each([
    ['34.9 mmHg', 'caution', 0],
    ['35 mmHg', 'stop', 1],
  ])('mean pressure %s: %s (severe from 35 mmHg, ESC/ERS 2015)', (mean, level, code) => {
    const done = planned('{ age: 46 y }', `{ mean_pa_pressure: ${mean} }`);
    expect(done.code).toBe(code);
    expect(finding(done, 'pulmonary-hypertension')).toMatchObject({
      level,
      text: expect.stringContaining(`Mean pulmonary artery pressure ${mean}, wedge not given`),
    });
  });

  it('wedge 15.3 mmHg, above 15 mmHg (ESC/ERS 2022)', () => {
    const done = planned(
      '{ age: 46 y }',
      '{ mean_pa_pressure: 18 mmHg, wedge_pressure: 15.3 mmHg, cardiac_output: 5 L/min }',
    );
    expect(finding(done, 'wedge-raised')?.text).toContain('wedge 15.3 mmHg');
    expect(done.result.readiness?.because.join()).toContain('Wedge 15.3 mmHg, above 15 mmHg');
  });

  it('does not call an infant of 0.8 years one year old', () => {
    const done = planned('{ age: 0.8 y }', '{ mean_pa_pressure: 14 mmHg }');
    expect(done.result.readiness?.because.join()).toContain('Age 0.8 years');
  });
});

describe('the exit code of a case that bleeds', () => {
  it.each([
    ['bleeding: { now: yes, stable: yes }', 1],
    ['bleeding: { now: no, within_24_h: yes }', 1],
    ['bleeding: { now: no, within_24_h: no }', 0],
    ['bleeding: { now: unknown }', 0],
  ])('%s: %i', (bleeding, code) => {
    const done = planned('{ age: 46 y }', '{ mean_pa_pressure: 14 mmHg }', `${bleeding}\n`);
    expect(done.code).toBe(code);
    expect(finding(done, 'bleeding')?.level).toBe(code === 1 ? 'stop' : undefined);
    if (code === 1) expect(done.result.readiness.because[0]).toMatch(/^Bleeding (now|within 24 hours)/);
  });
});

describe('a resistance just above its limit', () => {
  it('is printed with enough digits to tell it from 5 Wood units (ESC/ERS 2022)', () => {
    const circulation = '{ mean_pa_pressure: 30 mmHg, wedge_pressure: 10 mmHg, cardiac_output: 3.98 L/min }';
    const done = planned('{ age: 46 y }', circulation);
    expect(finding(done, 'pulmonary-hypertension')?.text).toMatch(/resistance 5\.03, .* above 5 Wood units/);
  });
});
