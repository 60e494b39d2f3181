import { describe, expect, it } from 'vitest';
import { inStage, stageChannel } from '../../src/foundation/stage.js';
import { Timings } from '../../src/cli/plan/timings.js';

/** What is reported while `work` runs. */
async function heard(work: () => unknown): Promise<unknown[]> {
  const said: unknown[] = [];
  const listen = (message: unknown): void => {
    said.push(message);
  };
  stageChannel.subscribe(listen);
  try {
    await work();
  } catch {
    // what is reported counts
  } finally {
    stageChannel.unsubscribe(listen);
  }
  return said;
}

describe('stages', () => {
  it('return the result of the work, with and without a listener', async () => {
    expect(inStage('read', () => 7)).toBe(7);
    await heard(() => expect(inStage('read', () => 7)).toBe(7));
  });

  it('are reported in order, nested, and end where the work throws', async () => {
    const nested = (): number => inStage('sections', () => inStage('centreline', () => 1));
    expect(await heard(nested)).toEqual(['sections', 'centreline', undefined, undefined]);
    const failing = (): never =>
      inStage('weld', () => {
        throw new Error('no');
      });
    expect(await heard(failing)).toEqual(['weld', undefined]);
  });

  it('of asynchronous work end when it does', async () => {
    const later = async (): Promise<void> => {
      await inStage('scan', async () => {
        await Promise.resolve();
        inStage('read', () => undefined);
      });
    };
    expect(await heard(later)).toEqual(['scan', 'read', undefined, undefined]);
  });
});

describe('the table of --timings', () => {
  it('has a row for each stage reached, and their sum', () => {
    const timings = new Timings();
    inStage('weld', () => inStage('read', () => undefined));
    const table = timings.end();
    const rows = table.trim().split('\n');
    expect(rows.map((row) => row.split(' ')[0])).toEqual([
      'stage',
      'start',
      'read',
      'weld',
      'rest',
      'together',
    ]);
    const seconds = (k: number): number[] => rows.slice(1).map((row) => Number(row.trim().split(/\s+/)[k]));
    for (const column of [1, 2]) {
      const all = seconds(column);
      const sum = all.slice(0, -1).reduce((a, b) => a + b, 0);
      // each is rounded to a hundredth
      expect(Math.abs(sum - (all.at(-1) ?? Number.NaN))).toBeLessThan(0.005 * all.length + 1e-9);
    }
    expect(stageChannel.hasSubscribers).toBe(false);
  });
});
