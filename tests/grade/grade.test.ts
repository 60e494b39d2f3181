import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Expectation } from '../../src/case/case.js';
import { gradeResult, judge } from '../../src/grade/grade.js';
import { gradeJson, gradeText } from '../../src/grade/grade-text.js';
import { keyOf, locate, resultOf } from './make.js';

const gradeOne = (entry: Omit<Expectation, 'path'>) => gradeResult(keyOf(entry), resultOf(), locate).items[0];

describe('an answer key', () => {
  it.each([
    [
      'a number within its tolerance',
      { value: 'vessels.A1.landing.calibre_mm', equals: 6.0, within: 0.3 },
      1,
    ],
    [
      'exactly at the tolerance, regardless of rounding',
      { value: 'shunt.fraction', equals: 0.29, within: 0.02 },
      1,
    ],
    [
      'off by up to two tolerances',
      { value: 'vessels.A1.landing.calibre_mm', equals: 5.7, within: 0.3 },
      0.5,
    ],
    [
      'off by more than two tolerances',
      { value: 'vessels.A1.landing.calibre_mm', equals: 5.4, within: 0.3 },
      0,
    ],
    ['no tolerance, the same number', { value: 'vessels.A1.landing.calibre_mm', equals: 6.1 }, 1],
    ['no tolerance, off by a millionth', { value: 'vessels.A1.landing.calibre_mm', equals: 6.100001 }, 0],
    ['no tolerance, off in the last bits', { value: 'shunt.fraction', equals: 0.31 * (1 + 1e-12) }, 1],
    ['a count off by one', { value: 'lesion.feeder_count', equals: 3, within: 0.5 }, 0],
    ['a count within its tolerance', { value: 'lesion.feeder_count', equals: 3, within: 1 }, 1],
    ['a count off by two tolerances', { value: 'lesion.feeder_count', equals: 4, within: 1 }, 0],
    ['a tolerance of zero', { value: 'lesion.feeder_count', equals: 2, within: 0 }, 1],
    ['a word', { value: 'devices.A1.kind', equals: 'vascular-plug' }, 1],
    ['another word', { value: 'devices.A1.kind', equals: 'micro-plug' }, 0],
    ['yes for true', { value: 'devices.A1.on_shelf', equals: 'yes' }, 1],
    ['no for true', { value: 'devices.A1.on_shelf', equals: 'no' }, 0],
    ['false for false', { value: 'devices.A1.borderline', equals: false }, 1],
    ['a number instead of a word', { value: 'devices.A1.kind', equals: 8 }, 0],
    ['a number given as text', { value: 'lesion.feeder_count', equals: '2' }, 1],
    ['a list joined by commas', { value: 'closure_order', equals: 'A1, A2.b' }, 1],
    ['a name that contains a dot', { value: 'vessels.A2.b.calibre_mm.mean', equals: 4 }, 1],
    ['a list entry by number', { value: 'closure[1].shunt_fraction', equals: 0.02 }, 1],
    ['a list entry by what is closed', { value: 'closure.A1+A2.b.shunt_fraction', equals: 0.03 }, 1],
    ['a list entry by its keyword', { value: 'closure.lobe.shunt_fraction', equals: 0.02 }, 1],
    ['a list entry by its id', { value: 'checklist.nickel.level', equals: 'caution' }, 1],
    ['a finding that is present', { finding: 'open-surface', present: true }, 1],
    ['a finding that is present and must not be', { finding: 'open-surface', present: false }, 0],
    ['a finding that is absent', { finding: 'sac-absent', present: true }, 0],
    ['a finding that must be absent', { finding: 'sac-absent', present: false }, 1],
    ['a misspelt finding that must be absent', { finding: 'open-surfaces', present: false }, 0],
    ['a group of values', { value: 'vessels.A1.landing', equals: 6 }, 0],
  ] as [string, Omit<Expectation, 'path'>, number][])('%s', (_, entry, credit) => {
    const item = gradeOne(entry);
    expect(item.credit).toBe(credit);
    if (credit === 1) expect(item.feedback).toBeUndefined();
    else expect(item.feedback).toBeTruthy();
    expect(item.where).toBe('case.yaml:1:1 expected[0]');
  });

  it.each([
    ['vessels.A1.landing.caliber_mm', 'vessels.A1.landing.calibre_mm'],
    ['vessels.A1.landing.calibre', 'vessels.A1.landing.calibre_mm'],
    ['vessel.A1.landing.calibre_mm', 'vessels.A1.landing.calibre_mm'],
    ['vessels.B1.landing.calibre_mm', 'vessels.A1.landing.calibre_mm'],
    ['shunt.fractoin', 'shunt.fraction'],
    ['closure.A1.shunt_fraction', 'closure.A1+A2.b.shunt_fraction'],
    ['devices.A1.code.colour', 'devices.A1.code'],
    ['constructor', undefined],
    ['vessels.__proto__.role', undefined],
  ])('%s names the nearest path that exists', (path, nearest) => {
    const item = gradeOne({ value: path, equals: 1 });
    expect(item.credit).toBe(0);
    expect(item.got).toBeUndefined();
    if (nearest) expect(item.feedback).toContain(`Nearest path: ${nearest}.`);
    else expect(item.feedback).toMatch(/Nearest path: [a-z]/);
  });

  it('refuses two lines that refer to one value, however they are written', () => {
    const key = keyOf(
      { value: 'closure.lobe.shunt_fraction', equals: 0.02 },
      { value: 'closure[1].shunt_fraction', equals: 0.02 },
    );
    expect(() => gradeResult(key, resultOf(), locate)).toThrow(
      expect.objectContaining({
        exitCode: 2,
        message:
          'case.yaml:1:1 expected[1] closure[1].shunt_fraction is given at case.yaml:1:1 expected[0] too. Keep one of the two lines.',
      }),
    );
  });

  it('says why a value is absent, where the result does', () => {
    const item = gradeOne({ value: 'vessels.A2.b.landing.calibre_mm', equals: 4 });
    expect(item.feedback).toContain('no stretch of 5 mm keeps its calibre');
  });

  it('says how far off, in which direction, and why the result says so', () => {
    expect(gradeOne({ value: 'shunt.fraction', equals: 0.35, within: 0.01 }).feedback).toMatch(
      /^0\.04 too small, 0\.01 allowed\. Method: content\. /,
    );
    expect(gradeOne({ value: 'lesion.feeder_count', equals: 1 }).feedback).toMatch(
      /^1 too large\. .*2 feeding arteries/,
    );
    expect(gradeOne({ value: 'devices.A1.code', equals: 'PLUG-09' }).feedback).toMatch(
      /^It is PLUG-08\. .*PLUG-09/,
    );
  });

  it('adds up partial credit and passes only where every line is right', () => {
    const grade = gradeResult(
      keyOf(
        { value: 'lesion.kind', equals: 'complex' },
        { value: 'vessels.A1.landing.calibre_mm', equals: 5.7, within: 0.3 },
        { value: 'lesion.feeder_count', equals: 3 },
      ),
      resultOf(),
      locate,
    );
    expect([grade.points, grade.of, grade.passed]).toEqual([1.5, 3, false]);
    const text = gradeText([grade], []);
    expect(text).toContain('FAIL  invented  1.5 of 3 points (50 %)');
    expect(text).toContain('vessels.A1.landing.calibre_mm: expected 5.7 within 0.3, got 6.1 (half credit)');
    expect(text.trimEnd().endsWith('0 of 1 cases passed, 1.5 of 3 points')).toBe(true);
    expect(JSON.parse(gradeJson([grade], []))).toMatchObject({ passed: false, points: 1.5, of: 3 });
    expect(JSON.parse(gradeJson([], [{ case: 'x', problems: ['bad'] }])).passed).toBe(false);
  });

  it('credit never increases with the distance, and a number is right against itself', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1e6, max: 1e6, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.double({ min: 0, max: 1e3, noNaN: true }),
        fc.double({ min: 0, max: 1e3, noNaN: true }),
        (wanted, within, near, further) => {
          expect(judge(wanted, wanted, { within }).credit).toBe(1);
          const close = judge(wanted, wanted + near, { within }).credit;
          expect(judge(wanted, wanted + near + further, { within }).credit).toBeLessThanOrEqual(close);
          expect(judge(wanted, wanted + near, { within, exact: true }).credit).toBe(close === 1 ? 1 : 0);
        },
      ),
    );
  });
});
