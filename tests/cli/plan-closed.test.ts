import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Result } from '../../src/result/result.generated.js';
import { lesionOf, writeCase } from '../compare/make-case.js';
import { pavm } from './run-pavm.js';

const base = mkdtempSync(join(tmpdir(), 'pavm-closed-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

/** Plans a case folder and reads what was written. */
function planned(folder: string): { code: number | null; err: string; plan: string; result: Result } {
  const { code, stderr } = pavm(['plan', folder, '--out', join(folder, 'plan')]);
  const read = (name: string): string => readFileSync(join(folder, 'plan', name), 'utf8');
  return { code, err: stderr, plan: read('plan.md'), result: JSON.parse(read('result.json')) };
}

const sectionOf = (plan: string, heading: string): string =>
  new RegExp(`\n## ${heading}\n\n([\\s\\S]*?)(?=\n## |$)`).exec(plan)?.[1] ??
  expect.fail(`no section ${heading}`);

describe('a case with only sac and vein, after treatment', () => {
  let done: ReturnType<typeof planned>;
  beforeAll(() => {
    const lesion = lesionOf({ A1: 0, A2: 0, sac: 0.4, V1: 3 });
    done = planned(writeCase(join(base, 'closed'), lesion, { after: 640, treated: '2024-06-12' }));
  });

  it('is planned, with the reason for whatever cannot be computed', () => {
    expect(done.code).toBe(0);
    const { result, plan } = done;
    expect(result.lesion).toMatchObject({
      treated: '2024-06-12',
      feeder_count: 0,
      drain_count: 1,
      feeders_absent_because: 'no feeding artery is open on this scan after the treatment',
    });
    expect([result.closure, result.devices]).toEqual([[], {}]);
    expect(result.sac?.volume_ml).toBeGreaterThan(0);
    expect(Object.keys(result.vessels)).toEqual(['V1']);
    const none = 'o feeding artery is open on this scan after the treatment';
    for (const heading of ['Summary', 'Virtual closure', 'Plan A: embolise'])
      expect(sectionOf(plan, heading)).toContain(none);
  });

  it('recommends no closure and says what plan A lacks', () => {
    const { readiness } = done.result;
    expect([readiness.recommended, readiness.decided_by]).toEqual(['discuss', 'none-open']);
    expect(readiness.plan_a).toMatchObject({
      ready_today: false,
      missing: ['an open feeding artery, as none is left after the treatment'],
      ready_by_absent_because: 'there is no open feeder',
    });
  });

  it('states in the follow-up whether the shunt is normal, and by whose limit', () => {
    const { fraction } = done.result.shunt_after as { fraction: number };
    expect(fraction).toBeLessThan(0.05);
    const follow = sectionOf(done.plan, 'Follow-up');
    expect(follow).toMatch(
      /Shunt after treatment cannot be told from none \(at most \d\.\d %\); normal is up to 5 %: by this measure the treatment has succeeded/,
    );
    expect(sectionOf(done.plan, 'Sources')).toContain('Gossage');
    expect(follow).toContain('pavm compare OLD NEW');
    expect(follow).toMatch(/shrinkage of sac or vein by 70 % or more counts as success/);
  });

  it('no longer speaks of success where the shunt is above the limit', () => {
    const lesion = lesionOf({ A1: 0, A2: 0, sac: 0.4, V1: 3 });
    const high = planned(writeCase(join(base, 'high'), lesion, { after: 300 }));
    expect(high.result.readiness.decided_by).toBe('persistent-shunt');
    expect(sectionOf(high.plan, 'Follow-up')).toMatch(
      /above the normal 5 %: the treatment has not succeeded/,
    );
  });

  it('is compared with the previous plan: closed, or open again', () => {
    const before = writeCase(join(base, 'before'), lesionOf(), { date: '2024-03-01' });
    const closed = pavm(['compare', before, join(base, 'closed', 'plan')]);
    expect(closed.code).toBe(1);
    expect(closed.stdout).toMatch(/\*\*Verdict: plan changes: .*no feeder is left after the treatment/);
    expect(closed.stdout).toContain('## After treatment\n\nClosed as far as can be told');
  });
});

describe('a case with blood gases from after treatment and no surfaces', () => {
  it('is planned, and a missing scan does not count as a closed lesion', () => {
    const folder = writeCase(join(base, 'gases'), lesionOf(), { after: 640, treated: '2024-06-12' });
    const file = join(folder, 'case.yaml');
    const text = readFileSync(file, 'utf8');
    writeFileSync(file, text.replace(/surfaces:\n(?: .*\n)+/, '').replace(/scan: .*\n/, ''));
    const { code, plan, result } = planned(folder);
    expect(code).toBe(0);
    expect(result.readiness.decided_by).toBe('nothing-measured');
    expect(result.lesion.feeders_absent_because).toBeUndefined();
    expect(result.shunt_after?.fraction).toBeLessThan(0.05);
    expect(sectionOf(plan, 'Follow-up')).toContain('normal is up to 5 %');
    expect(plan).toContain('surfaces-absent');
  });
});
