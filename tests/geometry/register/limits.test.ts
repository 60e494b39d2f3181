import { describe, expect, it } from 'vitest';
import { registerSurfaces, verdictOf } from '../../../src/geometry/register/register-surfaces.js';
import { registrationRules } from '../../../src/geometry/register/registration-rules.js';
import { sampleSurface } from '../../../src/geometry/register/surface-samples.js';
import { sacMesh } from '../../../src/phantoms/sac.js';
import { numberOf } from '../../../src/rules/rule.js';
import { withNumber } from '../../rules/with-number.js';
import { RULES as BUILT_IN } from '../make.js';
import { RULES } from './make.js';

const limit = (id: string): number => numberOf(BUILT_IN, id);
const changed = (id: string, value: number) => registrationRules(withNumber(id, value));

describe('what the limits decide about a pose', () => {
  /** A pose within every limit. */
  const pose = {
    misfitMm: 0.2,
    mirrorMisfitMm: 2,
    overlap: { moving: 1, fixed: 1 },
    reachMm: 3,
    runnerUp: { misfitMm: 1, turnFromBestDeg: 180 },
  };
  const verdict = (one: Partial<typeof pose>, rules = RULES) => verdictOf({ ...pose, ...one }, rules).verdict;

  it('no limit rejects a pose with little misfit, full overlap and no rival', () => {
    expect(verdictOf(pose, RULES)).toEqual({ verdict: 'placed' });
  });

  it.each([
    ['register-mirror', 'mirrored', (value: number) => ({ mirrorMisfitMm: 0.2 * value })],
    [
      'register-as-good',
      'ambiguous',
      (value: number) => ({ runnerUp: { misfitMm: 0.2 * value, turnFromBestDeg: 90 } }),
    ],
    [
      'register-least-overlap',
      'not-the-same',
      (value: number) => ({ overlap: { moving: value, fixed: 0.5 } }),
    ],
    [
      'register-least-overlap',
      'not-the-same',
      (value: number) => ({ overlap: { moving: 0.5, fixed: value } }),
    ],
    ['register-least-covered', 'not-the-same', (value: number) => ({ overlap: { moving: 1, fixed: value } })],
    ['register-least-covered', 'not-the-same', (value: number) => ({ overlap: { moving: value, fixed: 1 } })],
  ] as const)('%s: %s below it, placed above', (id, word, poseAt) => {
    const value = limit(id);
    expect(verdict(poseAt(value - 0.001))).toBe(word);
    expect(verdict(poseAt(value + 0.001))).toBe('placed');
    // the same pose under another limit
    expect(verdict(poseAt(value - 0.001), changed(id, value - 0.002))).toBe('placed');
    expect(verdict(poseAt(value + 0.001), changed(id, value + 0.002))).toBe(word);
  });
});

describe('what the limits decide about the search', () => {
  const body = sacMesh({ centreMm: [5, 6, 7], semiAxesMm: [14, 11, 9], lobes: [] }, 6);

  it('register-reach and register-distinct are fractions of the size; poses closer than the latter count as one', () => {
    const { radiusMm } = sampleSurface(body, 3000)!;
    // an ellipsoid fits equally well in four poses, which is ambiguous (register-surfaces.test.ts), none of them three sizes
    // apart
    const rules = { ...changed('register-distinct', 3), reach: changed('register-reach', 0.1).reach };
    const found = registerSurfaces(body, body, rules)!;
    expect(found.runnerUp).toBeUndefined();
    expect(found.verdict).toBe('placed');
    expect(found.reachMm).toBeCloseTo(0.1 * 2 * radiusMm, 9);
  });
});
