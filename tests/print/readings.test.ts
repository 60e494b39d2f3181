import { describe, expect, it } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { parseReadings } from '../../src/print/readings.js';

const KNOWN = ['G1', 'G2', 'G3'];
const parse = (text: string) =>
  parseReadings(new TextEncoder().encode(text), 'readings.yaml', KNOWN, '7A3F09C2');
const HEAD = 'format: pavm-readings/1\ninstrument: digital caliper\nreadings:\n';

function problems(text: string): string {
  try {
    parse(text);
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    expect(error.exitCode).toBe(3);
    return error.problems.join('\n');
  }
  return '';
}

describe('a readings file', () => {
  it('gives mm from any length unit', () => {
    const text = `${HEAD}  - { name: G1, value: "8.1 mm" }\n  - { name: G2, value: 0.25 inch, note: by the window }\n  - { name: G3, value: 1.2 cm }\n`;
    expect(parse(text)).toEqual({
      instrument: 'digital caliper',
      namesModel: false,
      readings: [
        { name: 'G1', valueMm: 8.1, asWritten: '8.1 mm' },
        { name: 'G2', valueMm: 6.35, asWritten: '0.25 inch' },
        { name: 'G3', valueMm: 12, asWritten: '1.2 cm' },
      ],
    });
  });

  it.each([
    [
      'format: pavm-case/1\nreadings: []',
      /^readings\.yaml:1:9 format: "pavm-case\/1" is not a readings file/,
    ],
    ['readings: []', /^readings\.yaml:1:1 this is not a pavm readings file/],
    ['- { format: pavm-readings/1 }', /^readings\.yaml:1:1 the file contains no keys/],
    ['format: pavm-readings/1', /readings: a list of readings is needed/],
    [`${HEAD}  []`, /readings: a list of readings is needed/],
    [`${HEAD}  - { name: G1, value: 8.1 }`, /^readings\.yaml:4:24 readings\[0\]\.value: "8.1" has no unit/],
    [`${HEAD}  - { name: G1, value: "8,1 mm" }`, /decimal comma/],
    [`${HEAD}  - { name: G1, value: 8.1 kg }`, /has the unit "kg"/],
    [`${HEAD}  - { name: G1, value: -2 mm }`, /A reading is above 0/],
    [`${HEAD}  - { name: G1 }`, /readings\[0\]\.value: is missing/],
    [`${HEAD}  - { value: 2 mm }`, /readings\[0\]\.name: is missing/],
    [`${HEAD}  - { name: G9, value: 2 mm }`, /"G9" is not a check point of this print\. Did you mean "G1"\?/],
    [
      `${HEAD}  - { name: G1, value: 2 mm }\n  - { name: G1, value: 3 mm }`,
      /^readings\.yaml:5:13 readings\[1\]\.name: "G1" is in readings\[0\] already/,
    ],
    [`${HEAD}  - { name: G1, vlaue: 2 mm }`, /the key "vlaue" is not known here\. Did you mean "value"\?/],
    [`${HEAD}  - G1`, /a reading is written/],
    [`date: today\n${HEAD}  - { name: G1, value: 2 mm }`, /the key "date" is not known here/],
    ['format: pavm-readings/1\nreadings: [', /not valid YAML/],
    [
      `format: pavm-readings/1\ninstrument: [1]\nreadings:\n  - { name: G1, value: 2 mm }`,
      /instrument: a text/,
    ],
  ])('refuses %j', (text, message) => {
    expect(problems(text)).toMatch(message);
  });

  it('names the model it was taken from, or is refused at once', () => {
    const of = (model: string): string =>
      `format: pavm-readings/1\nmodel: ${model}\nreadings:\n  - { name: G1, value: 2 mm }`;
    expect(parse(of('"7A3F09C2"')).namesModel).toBe(true);
    expect(parse(of('7a3f09c2')).namesModel).toBe(true);
    expect(problems(of('"11111111"'))).toMatch(
      /^readings\.yaml:2:8 model: "11111111" is another model; this case gives 7A3F09C2\. Give the case/,
    );
    // A number in YAML.
    expect(problems(of('11111111'))).toMatch(/model: "11111111" is another model/);
    expect(problems(of('[1]'))).toMatch(/is another model/);
  });

  it('accepts repeated readings by reader and round, and the order of the landmarks', () => {
    const text = `format: pavm-readings/1\nhandedness: anticlockwise\nreadings:\n  - { name: G1, value: 2 mm, reader: A, round: 1 }\n  - { name: G1, value: 2.1 mm, reader: A, round: 2 }\n`;
    const found = parse(text);
    expect(found.handedness).toBe('anticlockwise');
    expect(found.readings.map(({ reader, round }) => [reader, round])).toEqual([
      ['A', 1],
      ['A', 2],
    ]);
    expect(problems(text.replace('round: 2', 'round: 1'))).toMatch(
      /"G1" is in readings\[0\] already\. Give repeated/,
    );
    expect(problems(text.replace('round: 2', 'round: 0'))).toMatch(/round: a whole number from 1 to 99/);
    expect(problems(text.replace('anticlockwise', 'left'))).toMatch(
      /handedness: write clockwise or anticlockwise/,
    );
  });

  it('reports every problem, in file order', () => {
    expect(problems(`${HEAD}  - { name: G9, value: 8 }\n  - { name: G2 }\n`).split('\n')).toHaveLength(3);
  });
});
