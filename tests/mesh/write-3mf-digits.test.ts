import fc from 'fast-check';
import { strFromU8, unzipSync } from 'fflate';
import { expect, it } from 'vitest';
import { write3mf } from '../../src/mesh/write-3mf.js';

/** What the standard library writes with five digits, without trailing zeros. */
const fiveDigits = (value: number): string => {
  const text = value.toFixed(5).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
};

const coordinate = fc.oneof(
  fc.float({ min: -400, max: 400, noNaN: true }),
  fc.float({ min: Math.fround(-1e-4), max: Math.fround(1e-4), noNaN: true }),
  fc.float({ min: -25_000, max: 25_000, noNaN: true }),
  // halves of the last digit among them
  fc
    .tuple(fc.integer({ min: -20_000, max: 20_000 }), fc.integer({ min: 0, max: 20 }))
    .map(([n, power]) => n / 2 ** power),
);

it('coordinates of a 3MF have the digits that the standard library gives', () => {
  fc.assert(
    fc.property(fc.tuple(coordinate, coordinate, coordinate), (point) => {
      // far apart, so that five digits tell the corners from each other
      const positions = Float64Array.from([...point, 30_000, 0, 0, 0, 30_000, 0]);
      const mesh = { positions, triangles: Uint32Array.from([0, 1, 2]) };
      const files = unzipSync(write3mf([{ name: 'a', mesh }]));
      const [x, y, z] = point.map(fiveDigits);
      expect(strFromU8(files['3D/3dmodel.model'])).toContain(`<vertex x="${x}" y="${y}" z="${z}"/>`);
    }),
    { seed: 3, numRuns: 1500 },
  );
});

it.each([
  [1e-3, 5],
  [4e-7, 7],
  [4e-9, 9],
])('vertices %d mm apart are written with %d digits, so that they stay apart', (gap, digits) => {
  const positions = Float64Array.from([1 / 3, 0, 0, 1 / 3 + gap, 0, 0, 0, 1, 0]);
  const mesh = { positions, triangles: Uint32Array.from([0, 1, 2]) };
  const xml = strFromU8(unzipSync(write3mf([{ name: 'a', mesh }]))['3D/3dmodel.model']);
  const written = [...xml.matchAll(/<vertex x="([^"]+)"/g)].map(([, x]) => x);
  expect(new Set(written).size).toBe(3);
  expect(written[0]).toBe((1 / 3).toFixed(digits));
});
