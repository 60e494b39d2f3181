import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { measureCase } from '../../src/cli/measure/measure-case.js';
import { distance } from '../../src/foundation/vector.js';
import { planResection } from '../../src/resection/plan-resection.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

const folder = mkdtempSync(join(tmpdir(), 'unnamed-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
cpSync('cases/plover-whole', folder, { recursive: true });
const text = readFileSync(join(folder, 'case.yaml'), 'utf8');

/** The demonstration lesion without the lines of some of its ends. */
async function without(...names: string[]) {
  const lines = text.split('\n').filter((line) => !names.some((name) => line.includes(`name: ${name},`)));
  writeFileSync(join(folder, 'case.yaml'), lines.join('\n'));
  return measureCase(folder);
}

describe('ends that the case does not name', () => {
  it('are absent where all are named', async () => {
    const measured = await without();
    expect(measured.lesion.unnamed).toEqual({ of: 4, ends: [] });
    expect((await measured.findings()).map(({ id }) => id)).not.toContain('unnamed-ends');
  });

  it('count as branches where they join a feeder, with opening and landing zone as if named, and to be kept', async () => {
    const [named, unnamed] = [await without(), await without('B1')];
    const [truth, a1] = [named, unnamed].map(({ lesion }) => lesion.vessels.find((v) => v.name === 'A1')!);
    expect(a1.branches.map(({ name }) => name)).toEqual(['unnamed-1']);
    for (const key of ['atMm', 'fromMm', 'toMm', 'calibreMm'] as const)
      expect(Math.abs(a1.branches[0][key]! - truth.branches[0][key]!)).toBeLessThan(0.1);
    expect(a1.landing!.fromMm).toBeCloseTo(truth.landing!.fromMm, 1);
    expect(unnamed.lesion.vessels.map(({ name }) => name)).toEqual(['A1', 'A2', 'V1']);
    const { of, ends } = unnamed.lesion.unnamed!;
    expect(of).toBe(4);
    expect(ends).toHaveLength(1);
    expect(ends[0]).toMatchObject({ leadsTo: 'A1', branch: 'unnamed-1' });
    expect(distance(ends[0].pointMm, [78.8, 49.6, -35.8])).toBeLessThan(2);
    const said = (await unnamed.findings()).filter(({ id }) => id === 'unnamed-ends');
    expect(said.map(({ level }) => level)).toEqual(['caution']);
    expect(said[0].text).toMatch(
      /^1 of 4 open or blind ends .* the largest is (2\.9|3\.0) mm across at \[7\d\.\d\d, \d\d\.\d\d, -3\d\.\d\d\] mm\. One joins a measured path: unnamed-1 joins A1 48\.\d mm/,
    );
    const { case: patientCase, lesion, rules } = unnamed;
    const { resection } = planResection({ case: patientCase, lesion, rules, lungFunction: {} });
    expect(resection!.spare.map(({ name }) => name)).toEqual(['unnamed-1']);
    expect(resection!.spare[0].to_division_mm).toBeGreaterThan(3);
  });

  it('are named as feeder or drain where they lead to the sac', async () => {
    const measured = await without('A2');
    expect(measured.lesion.unnamed!.ends.map(({ leadsTo }) => leadsTo)).toEqual(['sac']);
    const said = (await measured.findings()).find(({ id }) => id === 'unnamed-ends')!;
    expect(said.text).toMatch(
      /One leads to the sac itself: 4\.\d mm across .* A feeder or drain that nobody named\?/,
    );
  });

  it('stop the sac where it is much longer than wide with them, as it is then a piece of the tree', async () => {
    const measured = await without('A1', 'B1');
    expect(measured.lesion.sac).toBeUndefined();
    expect(measured.lesion.vessels.map(({ name }) => name)).toEqual(['A2', 'V1']);
    const said = (await measured.findings()).find(({ id }) => id === 'sac-not-measured')!;
    expect(said.level).toBe('stop');
    // the ball of the sac alone, and the feeder that counts as sac
    const [, longest, widest] = /is (\S+) mm long, (\S+) mm wide/.exec(said.text)!.map(Number);
    expect(widest).toBeGreaterThan(20);
    expect(widest).toBeLessThan(22.5);
    expect(longest).toBeGreaterThan(3 * widest);
    expect(said.text).toMatch(/unnamed vessels? leads?.* Name these vessels among the ends/);
  });
});
