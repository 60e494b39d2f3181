import { describe, expect, it } from 'vitest';
import { editDistance, nearestHint, nearestKey } from '../../src/foundation/nearest-key.js';

describe('edit distance', () => {
  it.each([
    // Wagner and Fischer, J ACM 1974;21:168 and Damerau, Commun ACM 1964;7:171 define the steps; these are counted by hand.
    ['', '', 0],
    ['abc', '', 3],
    ['kitten', 'sitting', 3],
    ['feeder', 'feedre', 1],
    ['saturday', 'sunday', 3],
  ])('%s -> %s is %d', (a, b, steps) => {
    expect(editDistance(a, b)).toBe(steps);
    expect(editDistance(b, a)).toBe(steps);
  });
});

describe('nearest key', () => {
  const known = ['po2', 'pco2', 'ph', 'fio2', 'minutes_on_oxygen', 'haemoptysis'];
  it.each([
    ['po_2', 'po2'],
    ['pO2', 'po2'],
    ['minutes-on-oxygen', 'minutes_on_oxygen'],
    ['fi02', 'fio2'],
    ['hemoptysis', 'haemoptysis'],
    ['weight', undefined],
    ['', undefined],
    ['x', undefined],
    ['x'.repeat(5000), undefined],
  ])('%s -> %s', (written, expected) => {
    expect(nearestKey(written, known)).toBe(expected);
  });

  it('lists what is known where nothing is near', () => {
    expect(nearestHint('weight', ['po2', 'ph'])).toBe('Known here: po2, ph.');
    expect(nearestHint('po22', ['po2', 'ph'])).toBe('Did you mean "po2"?');
  });
});
