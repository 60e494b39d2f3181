import { describe, expect, it } from 'vitest';
import { gradeAnswers, parseAnswers } from '../../src/grade/answers.js';
import { keyOf, locate, resultOf } from './make.js';

const KEY = keyOf(
  { value: 'shunt.fraction', equals: 0.31, within: 0.01 },
  { value: 'devices.A1.code', equals: 'PLUG-08' },
);
const read = (...lines: string[]) =>
  parseAnswers(['format: pavm-answers/1', 'case: invented', 'answers:', ...lines].join('\n'), 'mine.yaml');
const gradeLine = (line: string) =>
  gradeAnswers(read(`  - ${line}`).answers, KEY, resultOf(), locate).items[0];

describe("a trainee's answers", () => {
  it.each([
    ['within the tolerance of the key', '{ value: shunt.fraction, answer: 0.302 }', 1],
    ['a percentage for a fraction', '{ value: shunt.fraction, answer: 31 % }', 1],
    ['off by up to two tolerances of the key', '{ value: shunt.fraction, answer: 0.295 }', 0.5],
    ['within the interval of the result', '{ value: vessels.A1.landing.calibre_mm, answer: 5.85 mm }', 1],
    ['another unit', '{ value: vessels.A1.landing.calibre_mm, answer: 0.6 cm }', 1],
    ['off by up to twice the interval', '{ value: vessels.A1.landing.calibre_mm, answer: 6.6 mm }', 0.5],
    ['far outside the interval', '{ value: vessels.A1.landing.calibre_mm, answer: 7.2 }', 0],
    ['to the digits given: correct', '{ value: vessels.V1.calibre_mm.mean, answer: 9 }', 1],
    ['to the digits given: close', '{ value: vessels.V1.calibre_mm.mean, answer: 9.1 }', 0.5],
    ['to the digits given: wrong', '{ value: vessels.V1.calibre_mm.mean, answer: 9.2 }', 0],
    ['a correct count', '{ value: lesion.feeder_count, answer: 2 }', 1],
    ['a count, one too many', '{ value: lesion.feeder_count, answer: 3 }', 0],
    ['a count, one too few', '{ value: lesion.feeder_count, answer: 1 }', 0],
    ['a count that is not a whole number', '{ value: lesion.feeder_count, answer: 2.4 }', 0],
    ['a count of pieces', '{ value: devices.A1.count, answer: 2 }', 0],
    [
      'a fraction as a percentage, to the digits given: correct',
      '{ value: closure.lobe.shunt_fraction, answer: 2 % }',
      1,
    ],
    ['a fraction as a percentage: close', '{ value: closure.lobe.shunt_fraction, answer: 3 % }', 0.5],
    ['a fraction as a percentage: wrong', '{ value: closure.lobe.shunt_fraction, answer: 40 % }', 0],
    ['a wrong kind', '{ value: lesion.kind, answer: simple }', 0],
    ['a word, ignoring letter case and hyphens', '{ value: devices.A1.kind, answer: Vascular plug }', 1],
    ['an alternate of the plan', '{ value: devices.A1.code, answer: PLUG-09 }', 0.5],
    ['a rejected device', '{ value: devices.A1.code, answer: PLUG-10 }', 0],
    ['yes for true', '{ value: devices.A1.on_shelf, answer: yes }', 1],
    ['a finding that is present', '{ finding: open-surface, answer: yes }', 1],
    ['a finding that is absent', '{ finding: sac-absent, answer: yes }', 0],
    ['a path that does not exist', '{ value: shunt.fractoin, answer: 0.3 }', 0],
    ['not a number', '{ value: shunt.fraction, answer: a third }', 0],
    ['a unit of another kind', '{ value: vessels.A1.landing.calibre_mm, answer: 6.1 kPa }', 0],
  ])('%s', (_, line, credit) => {
    const item = gradeLine(line);
    expect(item.credit).toBe(credit);
    if (credit < 1) expect(item.feedback?.length).toBeGreaterThan(10);
    expect(item.where).toMatch(/^mine\.yaml:4:\d+$/);
  });

  it('gets the reason for each miss', () => {
    expect(gradeLine('{ value: devices.A1.code, answer: PLUG-10 }').feedback).toContain(
      'PLUG-10 was rejected: oversize 64 %, above the window.',
    );
    expect(gradeLine('{ value: devices.A1.code, answer: PLUG-09 }').feedback).toContain(
      'PLUG-09 is an alternate',
    );
    expect(gradeLine('{ value: shunt.fraction, answer: 0.2 }').feedback).toContain('Method: content.');
    expect(gradeLine('{ value: lesion.kind, answer: simple }').feedback).toContain('2 feeding arteries');
    expect(gradeLine('{ value: readiness.recommended, answer: embolise }').feedback).toContain(
      'No landing zone on A2.b.',
    );
    expect(gradeLine('{ value: vessels.A1.landing.calibre_mm, answer: 9 }').feedback).toContain(
      '2.0 mm from the sac',
    );
  });

  it('counts lines of the key without an answer', () => {
    const grade = gradeAnswers(
      read('  - { value: shunt.fraction, answer: 0.31 }').answers,
      KEY,
      resultOf(),
      locate,
    );
    expect([grade.points, grade.of, grade.passed]).toEqual([1, 2, false]);
    expect(grade.items[1]).toMatchObject({ what: 'devices.A1.code', expected: 'PLUG-08', credit: 0 });
    expect(grade.items[1].feedback).toMatch(/^Not answered\./);
  });

  it('are refused where one value is answered twice, with both places', () => {
    expect(() =>
      read(
        '  - { value: "closure[0].shunt_fraction", answer: 3 % }',
        '  - { finding: sac-absent, answer: no }',
        '  - { value: closure.0.shunt_fraction, answer: 4 % }',
        '  - { finding: sac-absent, answer: yes }',
      ),
    ).toThrow(
      expect.objectContaining({
        exitCode: 2,
        problems: [
          'mine.yaml:6:48 closure.0.shunt_fraction is given at mine.yaml:4:51 too. Keep one of the two lines.',
          'mine.yaml:7:36 finding sac-absent is given at mine.yaml:5:36 too. Keep one of the two lines.',
        ],
      }),
    );
    const { answers } = read(
      '  - { value: closure.lobe.shunt_fraction, answer: 3 % }',
      '  - { value: closure.1.shunt_fraction, answer: 4 % }',
    );
    expect(() => gradeAnswers(answers, KEY, resultOf(), locate)).toThrow(/mine\.yaml:5:\d+ closure\.1/);
  });

  it('answer a line of the key even if the path is written differently', () => {
    const key = keyOf({ value: 'closure[1].shunt_fraction', equals: 0.02, within: 0.005 });
    const { answers } = read('  - { value: closure.lobe.shunt_fraction, answer: 2.4 % }');
    expect(gradeAnswers(answers, key, resultOf(), locate)).toMatchObject({ points: 1, of: 1, passed: true });
  });

  it.each([
    ['format: pavm-case/1', 'mine.yaml:1:9 format'],
    ['format: pavm-answers/1', 'answers: a list with at least one'],
    [
      'format: pavm-answers/1\nanswers: [{ value: a, anser: 1 }]',
      'answers[0].anser: is not known. Did you mean "answer"?',
    ],
    [
      'format: pavm-answers/1\nanswers: [{ value: a, finding: b, answer: 1 }]',
      'exactly one of value and finding',
    ],
    ['format: pavm-answers/1\nanswers: [{ finding: b, answer: 1 }]', 'neither yes nor no'],
    [
      'format: pavm-answers/1\nanswers: [{ value: "a\\e[2J", answer: 1 }]',
      '"a\\u{1b}[2J" contains a control',
    ],
    ['format: pavm-answers/1\nanswers: [7]', 'mine.yaml:2:11 answers[0]'],
    ['format: pavm-answers/1\ncase: 7\nanswers: [{ value: a, answer: 1 }]', 'mine.yaml:2:7 case'],
    ['format: pavm-answers/1\nanswers: [{ value: a, answer: [1] }]', 'not a single value'],
  ])('%j is refused with its place', (text, message) => {
    expect(() => parseAnswers(text, 'mine.yaml')).toThrow(
      expect.objectContaining({ exitCode: 2, message: expect.stringContaining(message) }),
    );
  });
});
