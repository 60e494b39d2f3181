import { describe, expect, it } from 'vitest';
import { parseCase } from '../../src/case/parse-case.js';
import type { PlausibleRange } from '../../src/case/plausible-ranges.js';
import { CASE_RANGES, SHELF_RANGES } from '../../src/case/plausible-ranges.js';
import { parseShelf } from '../../src/case/read-shelf.js';
import { COMMON_PRACTICE, SOURCES } from '../../src/reference/sources.js';
import { failureOf } from './problems-of.js';

/** Keys that a list item needs besides the one under test. */
const COMPANIONS: Record<string, string> = { devices: 'code: X, kind: vascular-plug, diameter: 8 mm, ' };

/** A file whose only unusual value is at the path of the range. */
function fileWith({ path, unit }: PlausibleRange, value: number): string {
  const shown =
    unit === 'fraction' ? `${Number((value * 100).toPrecision(12))} %` : `${value} ${unit}`.trim();
  const keys = path.split('.');
  const last = keys.pop();
  if (last?.endsWith('[]'))
    return `{ format: pavm-case/1, id: x, ${keys.join('.')}: { ${last.slice(0, -2)}: [${shown}, 200 mm, 200 mm] } }\n`;
  const top = keys[0] ?? '';
  let companions = COMPANIONS[top.replace('[]', '')] ?? '';
  if (path === 'print.cut.at') companions = 'axis: left, ';
  if (path.startsWith('surfaces.'))
    companions = 'unit: mm, parts: [{ name: A1, role: feeder, mesh: a.stl }], ';
  if (last === 'diameter') companions = companions.replace('diameter: 8 mm, ', '');
  const body = keys.reduceRight(
    (inner, key) => (key.endsWith('[]') ? `{ ${key.slice(0, -2)}: [${inner}] }` : `{ ${key}: ${inner} }`),
    `{ ${companions}${last}: ${shown} }`,
  );
  return `{ format: ${top === 'devices[]' ? 'pavm-shelf/1' : 'pavm-case/1, id: x'}, ${body.slice(2)}\n`;
}

const read = (range: PlausibleRange, value: number): Promise<unknown> =>
  SHELF_RANGES.includes(range)
    ? parseShelf(fileWith(range, value), 'f')
    : parseCase(fileWith(range, value), 'f');

describe.each([...CASE_RANGES, ...SHELF_RANGES])('$path', (range) => {
  const step = (range.high - range.low) * 1e-6;

  it(`accepts ${range.low} and ${range.high} ${range.unit}`, async () => {
    await read(range, range.low);
    await read(range, range.high);
  });

  it('refuses values just below and just above', async () => {
    const ends = [range.low - step, range.high + step].map((v) => Number(v.toPrecision(10)));
    for (const value of ends) {
      const { problems } = await failureOf(() => read(range, value));
      expect(problems).toHaveLength(1);
      expect(problems[0]).toContain(`${range.path.replace('[]', '[0]')}: `);
      expect(problems[0]).toContain('is outside');
    }
  });

  it('names a source that exists', () => {
    expect(range.source === COMMON_PRACTICE || range.source in SOURCES).toBe(true);
  });
});
