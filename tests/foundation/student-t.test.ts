import { expect, it } from 'vitest';
import { student95, student99 } from '../../src/foundation/student-t.js';

// Fisher and Yates, Statistical Tables, table III, 5 and 1 % (from memory)
it.each([
  [1, 12.706],
  [2, 4.303],
  [5, 2.571],
  [10, 2.228],
  [20, 2.086],
  [30, 2.042],
  [31, 2.04],
  [40, 2.021],
  [60, 2.0],
  [63, 1.998],
  [120, 1.98],
  [100_000, 1.96],
])("Student's t of %d degrees of freedom is %d", (freedom, t) => {
  expect(Math.abs(student95(freedom) - t)).toBeLessThan(0.0006);
});

it.each([
  [1, 63.657],
  [10, 3.169],
  [30, 2.75],
  [31, 2.744],
  [40, 2.704],
  [60, 2.66],
  [120, 2.617],
  [100_000, 2.576],
])("Student's t of %d degrees of freedom for 99 %% is %d", (freedom, t) => {
  expect(Math.abs(student99(freedom) - t)).toBeLessThan(0.0012);
});

it('decreases from each number of degrees of freedom to the next', () => {
  for (let freedom = 1; freedom < 200; freedom++)
    expect([
      student95(freedom + 1) < student95(freedom),
      student99(freedom + 1) < student99(freedom),
    ]).toEqual([true, true]);
});
