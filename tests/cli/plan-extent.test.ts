import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { run } from '../../src/cli/commands/plan.js';
import type { Result } from '../../src/result/result.generated.js';
import { capture } from './capture.js';

vi.mock('../../src/cli/plan/print-folder.js', async (original) =>
  (await import('./measure-once.js')).printingNothing(original),
);

const base = mkdtempSync(join(tmpdir(), 'pavm-extent-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

/** Plans the demo child with spirometry and the given extent of plan B. */
async function planned(surgery: string): Promise<{ plan: string; result: Result }> {
  const folder = join(base, 'wren');
  cpSync('cases/wren', folder, { recursive: true });
  const path = join(folder, 'case.yaml');
  const text = readFileSync(path, 'utf8')
    .replace('  egfr:', '  spirometry: { fev1_percent: 95 %, dlco_percent: 76 % }\n  egfr:')
    .replace('planned:', `surgery: ${surgery}\nplanned:`);
  writeFileSync(path, text);
  await capture((terminal) => run([folder], { out: join(base, 'plan') }, terminal));
  const read = (name: string): string => readFileSync(join(base, 'plan', name), 'utf8');
  return { plan: read('plan.md'), result: JSON.parse(read('result.json')) };
}

describe('a child of 28 kg and five segments of two lobes', () => {
  let done: Awaited<ReturnType<typeof planned>>;
  beforeAll(async () => {
    done = await planned('{ extent: segments, segments: [S1, S2, S3, S4, S5], one_lung_ventilation: yes }');
  });

  it('is planned as a bilobectomy, with the lung function left by 14 of 19 segments', () => {
    const stops = done.result.findings.filter(({ level }) => level === 'stop');
    expect(stops.map(({ id }) => id)).toEqual(['print-given-up']);
    const { resection } = done.result;
    expect(resection?.procedure).toBe('right upper and middle bilobectomy (S1, S2, S3, S4, S5)');
    expect(resection?.segments).toEqual(['S1', 'S2', 'S3', 'S4', 'S5']);
    expect(resection?.predicted_fev1_percent).toBeCloseTo((95 * 14) / 19, 2);
    expect(resection?.predicted_fev1_percent_interval).toEqual([50.3, 109.3]);
    expect(done.plan).toContain('| 70.0 (50.3–109.3) ');
    expect(done.plan).toContain('No margin to the plane between the segments can be given');
  });

  it('has contrast, output and blood for its own size', () => {
    const because = (prefix: string): string =>
      done.result.checklist.find((item) => item.id.startsWith(prefix))?.because ?? '';
    expect(because('contrast-vol')).toMatch(
      /^smallest limit 116 mL \(Nie 2021 116 mL, child by weight 140 mL/,
    );
    expect(done.result.checklist.find((item) => item.id === 'blood-loss')?.text).toContain(
      '560 to 1120 mL at 28 kg',
    );
    const row = done.result.closure.find((entry) => entry.closed !== 'lobe');
    expect(row?.assumed?.join()).toContain('3.51 L/min, 3.4 L/min per m2 of 1.03 m2');
  });
});
