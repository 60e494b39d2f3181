import { describe, expect, it } from 'vitest';
import { closureSets } from '../../src/physiology/closure-sets.js';

describe('sets of feeders', () => {
  const sets = (count: number, order: number[]): string[] =>
    closureSets(
      Array.from({ length: count }, (_, i) => `A${i + 1}`),
      order.map((i) => `A${i}`),
    ).map((set) => set.map((name) => name.slice(1)).join(''));

  it('up to four: every one, the small ones first, in case order', () => {
    expect(sets(0, [])).toEqual([]);
    expect(sets(1, [1])).toEqual(['1']);
    expect(sets(3, [3, 2, 1])).toEqual(['1', '2', '3', '12', '13', '23', '123']);
    expect(sets(4, [1, 2, 3, 4])).toHaveLength(15);
  });

  it('five: each, then in the order of closing, then all but one, then all', () => {
    // by order 5, 5+3, 5+3+1, 5+3+1+2: two, three and four of them, the last being all but the fourth
    expect(sets(5, [5, 3, 1, 2, 4])).toEqual([
      ...['1', '2', '3', '4', '5'],
      ...['35', '135', '1235', '2345', '1345', '1245', '1234', '12345'],
    ]);
  });

  it('a name that starts like another is a different one', () => {
    expect(closureSets(['A', 'A,A'], ['A', 'A,A'])).toEqual([['A'], ['A,A'], ['A', 'A,A']]);
  });
});
