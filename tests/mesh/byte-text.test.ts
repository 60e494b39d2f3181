import fc from 'fast-check';
import { expect, it } from 'vitest';
import { ByteText } from '../../src/mesh/byte-text.js';

it('writes the same bytes as the standard library, however long the text grows', () => {
  const whole = fc.record({ value: fc.nat(), width: fc.integer({ min: 1, max: 10 }) });
  fc.assert(
    fc.property(fc.array(fc.oneof(fc.string({ unit: 'binary', maxLength: 40 }), whole)), (pieces) => {
      const bytes = new ByteText();
      const long = 'x'.repeat(70_000);
      let expected = long;
      bytes.text(long);
      for (const piece of pieces) {
        if (typeof piece === 'string') {
          bytes.text(piece);
          expected += piece;
        } else {
          bytes.whole(piece.value, piece.width);
          expected += String(piece.value).padStart(piece.width, '0');
        }
      }
      expect(Buffer.from(bytes.written()).equals(Buffer.from(expected))).toBe(true);
    }),
    { seed: 5, numRuns: 200 },
  );
});

it('writes the smallest and the largest numbers', () => {
  const bytes = new ByteText();
  for (const value of [0, 9, 10, 99, 100, 2 ** 31 - 1]) bytes.whole(value).text(' ');
  expect(new TextDecoder().decode(bytes.written())).toBe('0 9 10 99 100 2147483647 ');
});
