import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { lesionKind } from '../../src/plan/lesion-kind.js';
import { makeCase } from '../resection/make.js';

type Kind = NonNullable<Case['lesion']['kind']>;

/** A case whose feeders come from these arteries, `?` where it is not stated. */
const fedFrom = (from: string[], segments: string[] = [], kind?: Kind) =>
  makeCase({
    lesion: { segments, kind },
    surfaces: {
      unit: 'mm',
      unitMm: 1,
      frame: 'LPS',
      parts: [
        ...from.map((name, i) => ({
          name: `A${i + 1}`,
          role: 'feeder' as const,
          mesh: { relative: 'a.stl', absolute: 'a.stl' },
          spare: false,
          arisesFrom: name === '?' ? undefined : name,
          path: 'p',
        })),
        {
          name: 'V1',
          role: 'drain',
          mesh: { relative: 'v.stl', absolute: 'v.stl' },
          spare: false,
          path: 'p',
        },
      ],
    },
  });

// White et al., Radiology 1988, from memory: simple, one segmental artery; complex, two or more
describe('simple or complex', () => {
  it.each([
    ['one feeder', ['?'], [], 'simple'],
    ['two feeders from one segment', ['A9 of the left lower lobe', 'A9b'], [], 'simple'],
    ['two feeders from two segments', ['A9', 'A10'], [], 'complex'],
    ['A10 is not A1', ['A1', 'A10'], [], 'complex'],
    ['a combined segment counts as one', ['A1+2', 'A1+2c'], [], 'simple'],
    ['segments not named, one listed', ['?', '?'], ['S9'], 'simple'],
    ['segments not named, two listed', ['?', '?'], ['S9', 'S10'], 'complex'],
    ['one of two segments not named', ['A9', '?'], [], 'complex'],
    ['no feeder', [], [], undefined],
  ] as [string, string[], string[], Kind | undefined][])('%s', (_, from, segments, kind) => {
    expect(lesionKind(fedFrom(from, segments)).kind).toBe(kind);
  });

  it('counts segments, not feeders', () => {
    expect(lesionKind(fedFrom(['A9', 'A9', 'A9']))).toEqual({
      kind: 'simple',
      because: '3 feeding arteries of one segment (A9)',
    });
    expect(lesionKind(fedFrom(['A10', 'A9']))).toEqual({
      kind: 'complex',
      because: '2 feeding arteries of 2 segments (A10, A9)',
    });
    expect(lesionKind(fedFrom(['?', '?'])).because).toMatch(/assumed to come from different segments/);
    expect(lesionKind(fedFrom(['?'])).because).toBe('one feeding artery');
    expect(lesionKind(makeCase()).because).toBe('the case names no feeder');
  });

  it('as stated in the case, if it is', () => {
    expect(lesionKind(fedFrom(['A9'], [], 'diffuse'))).toEqual({
      kind: 'diffuse',
      because: 'stated in the case',
    });
  });
});
