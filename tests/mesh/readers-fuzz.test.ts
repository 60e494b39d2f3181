import fc from 'fast-check';
import { strToU8 } from 'fflate';
import { describe, expect, it, vi } from 'vitest';
import { InputFailure } from '../../src/foundation/failure.js';
import { hasInvisible } from '../../src/foundation/quoted-text.js';
import { readMesh } from '../../src/mesh/read/read-mesh.js';
import { everyFormat } from './mesh-bytes.js';
import { cylinder } from './shapes.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

const SEED = 20260402;
const RUNS = 150;
const files = everyFormat(cylinder(8, 2, 5, 2));

/** A one-line refusal, or a mesh in which every index and number is usable. Anything else fails the test. */
async function readsOrRefuses(bytes: Uint8Array, file: string): Promise<void> {
  const started = performance.now();
  try {
    const read = await readMesh(bytes, file);
    for (const { mesh } of read.objects) {
      const count = mesh.positions.length / 3;
      expect(mesh.triangles.length % 3).toBe(0);
      expect(mesh.triangles.every((v) => v < count)).toBe(true);
      expect(mesh.positions.every(Number.isFinite)).toBe(true);
      // no file of n bytes holds more than n triangles
      expect(mesh.triangles.length / 3).toBeLessThanOrEqual(20 * bytes.length);
    }
  } catch (error) {
    if (!(error instanceof InputFailure)) throw error;
    expect(error.problems).toHaveLength(1);
    expect(error.message.length).toBeLessThan(600);
    expect(hasInvisible(error.message)).toBe(false);
  }
  expect(performance.now() - started).toBeLessThan(5000);
}

describe.each(Object.entries(files))('%s', (file, valid) => {
  it(`survives truncation of every kind (seed ${SEED})`, async () => {
    await fc.assert(
      fc.asyncProperty(fc.nat(valid.length), (n) => readsOrRefuses(valid.slice(0, n), file)),
      { seed: SEED, numRuns: RUNS },
    );
  });
  it(`survives flipped bytes (seed ${SEED})`, async () => {
    const flip = fc.tuple(fc.nat(valid.length - 1), fc.integer({ min: 0, max: 255 }));
    await fc.assert(
      fc.asyncProperty(fc.array(flip, { minLength: 1, maxLength: 12 }), (flips) => {
        const bytes = valid.slice();
        for (const [at, value] of flips) bytes[at] = value;
        return readsOrRefuses(bytes, file);
      }),
      { seed: SEED, numRuns: RUNS },
    );
  });
  it(`survives pieces moved, duplicated and replaced by extreme numbers (seed ${SEED})`, async () => {
    const piece = fc.tuple(
      fc.nat(valid.length),
      fc.nat(valid.length),
      fc.nat(64),
      fc.constantFrom(0, 1, 127, 128, 255, -1),
    );
    await fc.assert(
      fc.asyncProperty(fc.array(piece, { minLength: 1, maxLength: 4 }), (pieces) => {
        let bytes = valid.slice();
        for (const [from, to, length, value] of pieces) {
          if (value >= 0) bytes.fill(value, from, from + length);
          else
            bytes = Uint8Array.from([
              ...bytes.slice(0, to),
              ...bytes.slice(from, from + length),
              ...bytes.slice(to),
            ]);
        }
        return readsOrRefuses(bytes, file);
      }),
      { seed: SEED, numRuns: RUNS },
    );
  });
});

describe('random bytes', () => {
  const starts = [
    '',
    'solid ',
    'ply\n',
    'glTF',
    'PK\x03\x04',
    '{"asset":{"version":"2.0"},',
    'v ',
    '\u0000'.repeat(80),
  ];
  it.each(['a.stl', 'a.obj', 'a.ply', 'a.gltf', 'a.glb', 'a.3mf', 'a'])(
    `as %s (seed ${SEED})`,
    async (file) => {
      await fc.assert(
        fc.asyncProperty(fc.constantFrom(...starts), fc.uint8Array({ maxLength: 400 }), (start, bytes) =>
          readsOrRefuses(Uint8Array.from([...strToU8(start), ...bytes]), file),
        ),
        { seed: SEED, numRuns: RUNS },
      );
    },
  );
  it(`words of the text formats in any order (seed ${SEED})`, async () => {
    const word = fc.constantFrom(
      'solid',
      'facet',
      'normal',
      'outer loop',
      'vertex',
      'endloop',
      'endfacet',
      'endsolid',
      'v',
      'f',
      'o',
      'g',
      '0',
      '1',
      '-1',
      '3',
      '1e38',
      'nan',
      '\n',
      '\\\n',
      '#',
      '1/2/3',
      '1//1',
    );
    await fc.assert(
      fc.asyncProperty(fc.constantFrom('a.stl', 'a.obj'), fc.array(word, { maxLength: 80 }), (file, words) =>
        readsOrRefuses(strToU8((file === 'a.stl' ? 'solid ' : '') + words.join(' ')), file),
      ),
      { seed: SEED, numRuns: 400 },
    );
  });
});
