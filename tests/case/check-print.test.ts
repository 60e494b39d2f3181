import { describe, expect, it } from 'vitest';
import { parseCase } from '../../src/case/parse-case.js';
import { failureOf } from './problems-of.js';

const fileWith = (print: string, frame = 'LPS', unit = 'cm'): string => `format: pavm-case/1
id: x
surfaces:
  unit: ${unit}
  frame: ${frame}
  parts:
    - { name: A1, role: feeder, mesh: a.stl }
    - { name: B1, role: branch, of: A1, mesh: b.stl }
    - { name: sac, role: sac, mesh: s.stl }
print: ${print}
`;

describe('print.cut', () => {
  it('is read in each of its forms, points in the unit of the mesh', async () => {
    const cutOf = async (cut: string) => (await parseCase(fileWith(`{ cut: ${cut} }`), 'f')).case.print.cut;
    expect(await cutOf('{ neck: A1 }')).toEqual({ by: 'neck', vessel: 'A1' });
    expect(await cutOf('{ axis: superior, at: -2.5 cm }')).toEqual({
      by: 'axis',
      axis: 'superior',
      atMm: -25,
    });
    expect(await cutOf('{ point: [1, -2, 3.5], normal: [0, 0, 2] }')).toEqual({
      by: 'plane',
      pointMm: [10, -20, 35],
      normal: [0, 0, 2],
    });
    expect(await cutOf('{ neck: A1 }')).toBeDefined();
    expect((await parseCase(fileWith('{ scale: 1 }'), 'f')).case.print.cut).toBeUndefined();
  });

  it.each([
    ['{ cut: {} }', /10:\d+ print\.cut: does not say where to cut/],
    ['{ cut: { neck: A1, axis: left, at: 1 mm } }', /print\.cut\.axis: is given beside another way/],
    ['{ cut: { axis: left } }', /print\.cut\.at: is missing\. axis and at belong together/],
    ['{ cut: { normal: [0, 0, 1] } }', /print\.cut\.point: is missing/],
    ['{ cut: { point: [0, 0, 0], normal: [0, 0, 0] } }', /print\.cut\.normal: has no direction/],
    [
      '{ cut: { neck: A2 } }',
      /print\.cut\.neck: "A2" is not a feeder or drain of this case\. Did you mean "A1"/,
    ],
    ['{ cut: { neck: B1 } }', /print\.cut\.neck: "B1" is not a feeder or drain/],
    ['{ cut: { axis: up, at: 1 mm } }', /print\.cut\.axis: "up" is not known here/],
    ['{ cut: { axis: left, at: 12 } }', /print\.cut\.at: "12" has no unit/],
    ['{ build_volume: [200 mm, 200 mm] }', /print\.build_volume: needs 3/],
    ['{ build_volume: [200, 200 mm, 180 mm] }', /print\.build_volume\[0\]: "200" has no unit/],
    ['{ struts: maybe }', /print\.struts: "maybe" is not known here/],
  ])('%s is refused at its place', async (print, message) => {
    const { problems } = await failureOf(() => parseCase(fileWith(print), 'f'));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatch(message);
  });

  it('an axis needs the frame of the surfaces', async () => {
    const print = '{ cut: { axis: left, at: 1 mm } }';
    const { problems } = await failureOf(() => parseCase(fileWith(print, 'unknown'), 'f'));
    expect(problems).toEqual([expect.stringMatching(/print\.cut\.axis: needs surfaces\.frame/)]);
  });
});
