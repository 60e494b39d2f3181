import { describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { notFinite } from './finite.js';
import { READERS } from './readers.js';
import { type FuzzedReader, inputOf, tryInput } from './try-input.js';

const SEED = 7;
const INPUTS = Number(process.env.PAVM_LONG === '1' ? 5000 : 200);

describe('mutated inputs are read or refused', { timeout: 600_000 }, () => {
  it.each(READERS.map((reader) => [reader.name, reader] as const))('%s', async (_name, reader) => {
    for (let number = 0; number < INPUTS; number++) {
      const { failure } = await tryInput(reader, inputOf(reader, SEED, number));
      expect(failure, `input ${number} of seed ${SEED}`).toBeUndefined();
    }
  });
});

describe('the trial itself', () => {
  const reader = (read: FuzzedReader['read']): FuzzedReader => ({
    name: 'invented',
    input: (chance) => Uint8Array.of(chance.below(256)),
    read,
  });
  const tried = (read: FuzzedReader['read']) => tryInput(reader(read), Uint8Array.of(1));

  it('finds anything thrown that is not a refusal', async () => {
    expect((await tried(() => Promise.reject(new TypeError('x is undefined')))).failure).toContain(
      'TypeError',
    );
    expect(
      (await tried(() => Promise.reject(new InputFailure(3, 'f: it is broken. Export it.')))).failure,
    ).toBe(undefined);
  });
  it('finds refusals that say nothing', async () => {
    expect((await tried(() => Promise.reject(new InputFailure(3, [])))).failure).toContain('no plain line');
    expect((await tried(() => Promise.reject(new InputFailure(3, '')))).failure).toContain('no plain line');
    // a failure makes hidden characters visible, whoever reports it
    expect(new InputFailure(3, 'a\u202eb').problems).toEqual(['a\\u{202e}b']);
  });
  it('finds NaN at any depth', () => {
    expect(notFinite({ a: [{ b: Float64Array.of(0, Number.NaN) }] })).toBe('result.a.0.b[1] is NaN');
    expect(notFinite(new Map([['a', Infinity]]))).toBe('result.a is Infinity');
    expect(notFinite({ a: [1, 'NaN', null] })).toBeUndefined();
  });
  it('finds an input that takes far more memory than its size', async () => {
    const { failure } = await tried(async () => {
      const taken = new Uint8Array(400 * 2 ** 20).fill(1);
      return taken[5] === 0 ? 'never' : undefined;
    });
    expect(failure).toMatch(/^1 bytes took \d+ MiB of memory$/);
  });
  it('makes the same input again from seed and number, and different inputs from others', () => {
    const [first] = READERS;
    expect(inputOf(first, 1, 5)).toEqual(inputOf(first, 1, 5));
    const all = new Set(
      Array.from({ length: 50 }, (_, i) => Buffer.from(inputOf(first, 1, i)).toString('hex')),
    );
    expect(all.size).toBeGreaterThan(45);
  });
});
