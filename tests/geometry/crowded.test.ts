import { describe, expect, it } from 'vitest';
import { crowdedStretches } from '../../src/geometry/crowded.js';
import type { ProfileSample } from '../../src/geometry/measure.js';
import { profileOf } from './make.js';

/** Sections every half millimetre: `fullness` at the given positions, 0.99 elsewhere. */
const filled = (fullness: Record<number, number>, openings: readonly number[] = []): ProfileSample[] =>
  profileOf(Array<number>(41).fill(6), 0.5).map((s) => ({
    ...s,
    fullness: fullness[s.atMm] ?? 0.99,
    ...(openings.includes(s.atMm) && { atOpening: true }),
  }));

describe('where sections contain more than their vessel', () => {
  it('two waisted sections in a row make a stretch, one does not, on either side of the limit', () => {
    expect(crowdedStretches(filled({ 5: 0.949, 5.5: 0.949, 9: 0.8 }), 20)).toEqual([
      { fromMm: 5, toMm: 5.5 },
    ]);
    expect(crowdedStretches(filled({ 5: 0.949, 5.5: 0.951 }), 20)).toEqual([]);
    expect(crowdedStretches(filled({}), 20)).toEqual([]);
  });

  it('the openings of known branches do not count, and do not split a stretch', () => {
    expect(crowdedStretches(filled({ 5: 0.8, 5.5: 0.8, 6: 0.8 }, [5, 5.5, 6]), 20)).toEqual([]);
    expect(crowdedStretches(filled({ 5: 0.8, 5.5: 0.8, 6: 0.8 }, [5.5]), 20)).toEqual([
      { fromMm: 5, toMm: 6 },
    ]);
  });

  it('nor does the flare of the neck', () => {
    expect(crowdedStretches(filled({ 19.5: 0.8, 20: 0.8 }), 20)).toEqual([]);
    expect(crowdedStretches(filled({ 18.5: 0.8, 19: 0.8, 19.5: 0.8 }), 20)).toEqual([
      { fromMm: 18.5, toMm: 19 },
    ]);
  });
});
