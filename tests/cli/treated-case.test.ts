import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it } from 'vitest';
import type { Closure, Result, Shunt } from '../../src/result/result.generated.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const base = mkdtempSync(join(tmpdir(), 'pavm-treated-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

const pavm = (...args: string[]) =>
  spawnSync(process.execPath, [join(ROOT, 'bin/pavm'), ...args], { encoding: 'utf8' });

/** The treated teaching case with its text changed. */
function changed(name: string, change: (text: string) => string): string {
  const folder = join(base, name);
  cpSync(join(ROOT, 'cases/tern-after'), folder, { recursive: true });
  const file = join(folder, 'case.yaml');
  const text = readFileSync(file, 'utf8');
  writeFileSync(file, change(text));
  if (change(text) === text) throw new Error(`${name}: nothing was changed`);
  return folder;
}

describe('a treated lesion', () => {
  it('its shunt after the treatment is the headline, and closure and documents are based on it', () => {
    const shunt = JSON.parse(pavm('shunt', 'cases/tern-after', '--json').stdout) as Shunt;
    expect(shunt).toMatchObject({ when: 'after', sample: 'eight-months-after' });
    // By hand: Cc' 23.377, Ca 22.341, D 5: 1.036 / 6.036.
    expect(shunt.fraction).toBeCloseTo(0.1716, 3);
    const folder = changed('plan', (text) => text.replace('purpose: teaching', 'purpose: demo'));
    expect(pavm('plan', folder).status).toBe(0);
    const result = JSON.parse(readFileSync(join(folder, 'plan/result.json'), 'utf8')) as Result;
    expect(result.baseline).toBe('after');
    expect(result.shunt?.fraction).toBeCloseTo(0.293, 3);
    expect(result.shunt_after?.fraction).toBeCloseTo(0.1716, 3);
    // One feeder carries all of it: 17.2 % of 6.0 L/min, no longer the 1.76 L/min of the shunt before.
    expect(result.findings.find((f) => f.id === 'feeder-flow')?.text).toMatch(
      /^A2 carries about 1\.03 L\/min/,
    );
    const all = result.closure.find((row) => row.closed !== 'lobe') as Closure;
    expect(all.mean_pa_pressure_mmhg).toBeCloseTo(8 + 7 * ((1 - 0.027) / (1 - 0.1716)), 1);
    const plan = readFileSync(join(folder, 'plan/plan.md'), 'utf8');
    expect(plan).toMatch(/After treatment 17\.2 % .* the plan depends on it\. Before it 29\.3 %/);
    expect(readFileSync(join(folder, 'plan/page.html'), 'utf8')).toMatch(
      /17\.2 % [^<]*<\/strong>, after treatment/,
    );
  });

  it.each([
    [
      'gases from before it beside surfaces from after it',
      (text: string) => text.replace('when: after', 'when: before'),
    ],
    [
      'surfaces from before it beside gases from after it',
      (text: string) => text.replace('date: 2026-02-20', 'date: 2025-07-01'),
    ],
  ])('stops at %s', (name, change) => {
    const { status, stderr } = pavm('close', changed(name.slice(0, 8), change));
    expect(status).toBe(1);
    expect(stderr).toMatch(/stop gases: The scan of .* treatment of 2025-07-08/);
  });

  it('closes nothing on gases from another state', () => {
    const folder = changed('apart', (text) => text.replace('when: after', 'when: before'));
    const rows = JSON.parse(pavm('close', folder, '--json').stdout) as Closure[];
    expect(rows.every((row) => row.shunt_fraction === undefined)).toBe(true);
    expect(rows[0].absent_because).toContain('before the treatment, the surfaces from after it');
  });
});
