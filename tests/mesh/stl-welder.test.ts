import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CompiledStlWelder,
  PlainStlWelder,
  STL_TRIANGLE_BYTES,
  type StlWelder,
} from '../../src/mesh/read/stl-welder.js';

const FILE = fileURLToPath(new URL('../../dist/mesh/read/stl-weld.wasm', import.meta.url));

function program(): WebAssembly.Module {
  if (!existsSync(FILE)) throw new Error(`${FILE} is missing. Run: npm run build`);
  return new WebAssembly.Module(readFileSync(FILE));
}

/** Triangles of nine numbers each as stored in a binary STL, with garbage where nothing is read. */
function bytesOf(numbers: readonly number[]): Uint8Array {
  const count = numbers.length / 9;
  const bytes = new Uint8Array(count * STL_TRIANGLE_BYTES).fill(0xa5);
  const view = new DataView(bytes.buffer);
  numbers.forEach((value, i) => {
    view.setFloat32(Math.floor(i / 9) * STL_TRIANGLE_BYTES + 12 + 4 * (i % 9), value, true);
  });
  return bytes;
}

/** The welder's result for the bytes, fed in chunks of this many triangles. */
function welded(welder: StlWelder, bytes: Uint8Array, piece: number) {
  const count = bytes.length / STL_TRIANGLE_BYTES;
  const numbers = new Uint32Array(3 * count);
  let taken = 0;
  while (taken < count) {
    const some = Math.min(piece, count - taken);
    const now = welder.take(bytes.subarray(taken * STL_TRIANGLE_BYTES), some, numbers, 3 * taken);
    taken += now;
    if (now < some) break;
  }
  return { taken, numbers: [...numbers.subarray(0, 3 * taken)], positions: [...welder.positions()] };
}

/** Few values, so that corners coincide; both zeros are among them. */
const value = fc.oneof(
  { weight: 6, arbitrary: fc.constantFrom(0, -0, 1, -1, 0.1, 2.5, 1e-30, 3.4e38) },
  { weight: 2, arbitrary: fc.float({ noNaN: true, noDefaultInfinity: true }) },
);
const soup = fc
  .array(fc.array(value, { minLength: 9, maxLength: 9 }), { maxLength: 60 })
  .map((triangles) => triangles.flat());

describe('joining the corners of a binary STL', () => {
  const module = program();

  it('the compiled program gives the same numbers and points as the plain one, whatever its initial size', () => {
    fc.assert(
      fc.property(
        soup,
        fc.integer({ min: 1, max: 40 }),
        fc.integer({ min: 1, max: 25 }),
        (numbers, room, piece) => {
          const bytes = bytesOf(numbers);
          const plain = welded(new PlainStlWelder(room), bytes, piece);
          expect(welded(new CompiledStlWelder(module, room), bytes, piece)).toEqual(plain);
        },
      ),
      { seed: 7, numRuns: 300 },
    );
  });

  it('both stop before a triangle with a non-finite coordinate, and keep what came before', () => {
    for (const bad of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY])
      for (let at = 0; at < 9; at++) {
        const numbers = [0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
        numbers[9 + at] = bad;
        for (const welder of [new PlainStlWelder(4), new CompiledStlWelder(module, 4)]) {
          const { taken, positions } = welded(welder, bytesOf(numbers), 2);
          expect(taken).toBe(1);
          expect(positions.slice(0, 9)).toEqual([0, 0, 0, 1, 0, 0, 0, 1, 0]);
        }
      }
  });

  it('equal corners by hand: a square of two triangles has four points, numbered in file order', () => {
    const square = [0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 0, -0, 1, 1, 0, 0, 1, 0];
    const { numbers, positions } = welded(new CompiledStlWelder(module, 1), bytesOf(square), 9);
    expect(numbers).toEqual([0, 1, 2, 0, 2, 3]);
    expect(positions).toEqual([0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 1, 0]);
  });
});
