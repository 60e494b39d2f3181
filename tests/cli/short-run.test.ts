import { describe, expect, it } from 'vitest';
import { expectShortRun } from '../../src/cli/short-run.js';

describe('the engine is told of a short run', () => {
  const flagsFor = (inputs: Parameters<typeof expectShortRun>[0]): string[] => {
    const flags: string[] = [];
    expectShortRun(inputs, (flag) => flags.push(flag));
    return flags.map((flag) => flag.split('=')[0]);
  };
  const MIB = 2 ** 20;

  it('with surfaces of up to 8 MiB together', () => {
    expect(flagsFor([])).toHaveLength(2);
    expect(
      flagsFor([
        { role: 'mesh', size: 5 * MIB },
        { role: 'shelf', size: 3 * MIB },
      ]),
    ).toEqual(['--interrupt-budget', '--max-inlined-bytecode-size-cumulative']);
  });

  it('not with more, nor with a series, whose size the case file does not tell', () => {
    expect(
      flagsFor([
        { role: 'mesh', size: 5 * MIB },
        { role: 'mesh', size: 3 * MIB + 1 },
      ]),
    ).toEqual([]);
    expect(flagsFor([{ role: 'series', size: 4096 }])).toEqual([]);
  });

  it('the engine knows both flags', async () => {
    const { execFileSync } = await import('node:child_process');
    const known = execFileSync(process.execPath, ['--v8-options'], { encoding: 'utf8' });
    for (const flag of flagsFor([])) expect(known).toContain(`${flag} `);
  });
});
