import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { engineFlags, isShortRun } from '../../src/cli/engine-flags.js';

const MIB = 2 ** 20;

describe('flags of the engine', () => {
  it('a short run: up to 8 MiB of inputs in total', () => {
    expect(isShortRun([])).toBe(true);
    const mesh = { role: 'mesh', size: 5 * MIB } as const;
    expect(isShortRun([mesh, { role: 'shelf', size: 3 * MIB }])).toBe(true);
    expect(isShortRun([mesh, { role: 'mesh', size: 3 * MIB + 1 }])).toBe(false);
  });

  it('not with a series, whose size is not in the case file', () =>
    expect(isShortRun([{ role: 'series', size: 4096 }])).toBe(false));

  it.each(['20.0.0', '20.20.2', '22.3.0', '24.21.0'])('Node %s: what a long run undoes', (version) => {
    const { atStart, long } = engineFlags(version);
    const names = (flags: readonly string[]): string[] => flags.map((flag) => flag.split('=')[0]!);
    expect(names(long)).toEqual(names(atStart));
  });

  // Node 22 and later have no --interrupt-budget and do not start with it
  it.each(['22.23.3', '24.21.0'])('Node %s: no interrupt budget', (version) => {
    const { atStart, long, worker } = engineFlags(version);
    expect([...atStart, ...long, ...worker].filter((flag) => flag.startsWith('--interrupt'))).toEqual([]);
  });

  it.each(['18.20.0', '21.7.0', '23.1.0', '25.0.0', '26.10.0', '30.0.0'])('none on Node %s', (version) =>
    expect(engineFlags(version)).toEqual({ atStart: [], long: [], worker: [] }),
  );

  it('the installed engine accepts all of them, at start and later, without a warning', () => {
    const { atStart, long, worker } = engineFlags();
    for (const flags of [worker, atStart, long]) {
      const set = `for (const flag of ${JSON.stringify(flags)}) require('v8').setFlagsFromString(flag)`;
      const { status, stdout, stderr } = spawnSync(process.execPath, [...flags, '-e', set], {
        encoding: 'utf8',
      });
      expect({ status, stdout, stderr }).toEqual({ status: 0, stdout: '', stderr: '' });
    }
  });
});
