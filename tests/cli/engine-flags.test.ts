import { execFileSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { shortRunFlags, workerFlags } from '../../src/cli/engine-flags.js';

const MIB = 2 ** 20;
const namesOf = (flags: readonly string[]): string[] => flags.map((flag) => flag.split('=')[0]);

describe('flags of the engine', () => {
  it('a short run: inputs of up to 8 MiB together', () => {
    const short = ['--interrupt-budget', '--max-inlined-bytecode-size-cumulative'];
    expect(namesOf(shortRunFlags([], '20.20.2'))).toEqual(short);
    const mesh = { role: 'mesh', size: 5 * MIB } as const;
    expect(namesOf(shortRunFlags([mesh, { role: 'shelf', size: 3 * MIB }], '24.1.0'))).toEqual(short);
    expect(shortRunFlags([mesh, { role: 'mesh', size: 3 * MIB + 1 }], '24.1.0')).toEqual([]);
  });

  it('not with a series, whose size the case file does not tell', () =>
    expect(shortRunFlags([{ role: 'series', size: 4096 }], '20.20.2')).toEqual([]));

  it('a worker of a batch', () => expect(workerFlags('22.3.0')).toHaveLength(3));

  // Node 26 has neither --interrupt-budget nor --single-threaded-gc and does not start with them
  it.each(['18.20.0', '25.0.0', '26.10.0', '30.0.0'])('none on Node %s', (version) => {
    expect(shortRunFlags([], version)).toEqual([]);
    expect(workerFlags(version)).toEqual([]);
  });

  it('the engine at hand starts with all of them', () => {
    const flags = [...workerFlags(), ...shortRunFlags([])];
    expect(execFileSync(process.execPath, [...flags, '-p', '1 + 1'], { encoding: 'utf8' })).toBe('2\n');
  });
});
