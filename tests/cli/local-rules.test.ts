import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import type { Result } from '../../src/result/result.generated.js';
import { loadRules } from '../../src/rules/load-rules.js';
import { pavm } from './run-pavm.js';

const work = mkdtempSync(join(tmpdir(), 'pavm-rules-'));
afterAll(() => rmSync(work, { recursive: true, force: true }));

/** A demo case with another mean pulmonary artery pressure, at an output that keeps the resistance below its own limit. */
function caseAt(meanPaMmHg: number): string {
  const dir = join(work, `at-${meanPaMmHg}`);
  cpSync('cases/plover', dir, {
    recursive: true,
    filter: (from) => !/[\\/](plan|print)([\\/]|$)/.test(from),
  });
  const file = join(dir, 'case.yaml');
  const text = readFileSync(file, 'utf8');
  writeFileSync(
    file,
    text
      .replace('cardiac_output: 5.0 L/min', 'cardiac_output: 12 L/min')
      .replace('mean_pa_pressure: 16 mmHg', `mean_pa_pressure: ${meanPaMmHg} mmHg`)
      .replace(/^print:.*\n/m, ''),
  );
  return dir;
}

function rulesFolder(name: string, files: Record<string, string>): string {
  const dir = join(work, name);
  mkdirSync(dir);
  for (const [file, text] of Object.entries(files)) writeFileSync(join(dir, file), text);
  return dir;
}

const severeFrom = (mmHg: number): string => `format: pavm-rules/1
rules:
  - id: severe-pulmonary-hypertension
    kind: number
    value: ${mmHg}
    unit: mmHg
    text: Severe from here.
    source: "local: right-heart protocol"
`;

describe('a hospital that raises the limit of severe pulmonary hypertension to 45 mmHg', () => {
  const rules = rulesFolder('raised', { 'pressure.yaml': severeFrom(45) });
  const planned = (meanPaMmHg: number): { code: number | null; result: Result; plan: string } => {
    const dir = caseAt(meanPaMmHg);
    const ran = pavm(['plan', dir, '--rules', rules, '--json']);
    return {
      code: ran.code,
      result: JSON.parse(ran.stdout),
      plan: readFileSync(join(dir, 'plan', 'plan.md'), 'utf8'),
    };
  };
  const shown = ({ code, result, plan }: ReturnType<typeof planned>) => {
    const trigger = result.readiness?.triggers?.find((entry) => /Mean PA pressure/.test(entry.text));
    return {
      code,
      findings: result.findings
        .filter((f) => /hypertension$|pulmonary-pressure/.test(f.id))
        .map((f) => [f.level, f.id]),
      item: result.checklist.find((item) => item.id === 'pulmonary-pressure')?.level,
      triggerNow: trigger?.applies,
      triggerText: trigger?.text.match(/pressure from (\S+ mmHg)/)?.[1],
      discusses: result.readiness?.because?.some((text) =>
        /: severe, so neither closing nor resecting/.test(text),
      ),
      oldLimit: /\b35 mmHg/.test(plan),
    };
  };

  it('at 44 mmHg nothing stops: finding, checklist, trigger and recommendation agree', () => {
    expect(shown(planned(44))).toEqual({
      code: 0,
      findings: [['caution', 'pulmonary-hypertension']],
      item: 'caution',
      triggerNow: false,
      triggerText: '45 mmHg',
      discusses: false,
      oldLimit: false,
    });
  });

  it('at 45 mmHg all of them stop and name the limit and the local source', () => {
    const run = planned(45);
    expect(shown(run)).toEqual({
      code: 1,
      findings: [
        ['stop', 'pulmonary-hypertension'],
        ['stop', 'checklist-pulmonary-pressure'],
      ],
      item: 'stop',
      triggerNow: true,
      triggerText: '45 mmHg',
      discusses: true,
      oldLimit: false,
    });
    expect(run.result.findings.find((f) => f.id === 'pulmonary-hypertension')?.text).toContain(
      'severe, from 45 mmHg (local: right-heart protocol)',
    );
  });

  it('pavm close follows the same limit', () => {
    const dir = join(work, 'at-44');
    expect(pavm(['close', dir, 'A1', '--rules', rules]).code).toBe(0);
    const builtIn = pavm(['close', dir, 'A1']);
    expect(builtIn.code).toBe(1);
    expect(builtIn.stderr).toContain('severe, from 35 mmHg');
  });
});

describe('pavm check --rules', () => {
  it('reads the folder before any case, and names what it does not read', () => {
    const fine = rulesFolder('fine', { 'pressure.yaml': severeFrom(45), 'notes.txt': 'not rules' });
    const ran = pavm(['check', 'cases/heron', '--rules', fine]);
    expect(ran.code).toBe(0);
    expect(ran.stderr).toContain('notes.txt');
    const known = loadRules(fine).findings;
    expect(known).toMatchObject([{ id: 'rules-file-not-read', level: 'note' }]);
    expect(known[0].text).toMatch(/^Not read from the rules folder: .*notes\.txt/);
    const wrong = rulesFolder('wrong', { 'pressure.yaml': severeFrom(45).replace('mmHg', 'cmHg') });
    const refused = pavm(['check', 'cases/heron', '--rules', wrong]);
    expect(refused).toMatchObject({ code: 2, stdout: '' });
    expect(refused.stderr).toMatch(/pressure\.yaml:\d+:\d+/);
  });
});

describe('arguments as typed', () => {
  it('are echoed without their escape sequences', () => {
    const ran = pavm(['check', '--no\u001b]0;owned\u0007such']);
    expect(ran.code).toBe(2);
    expect(ran.stderr).toContain('\\u001b]0;owned\\u0007');
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must not be there
    expect(ran.stderr).not.toMatch(/[\u001b\u0007]/);
  });
});
