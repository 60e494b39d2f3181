import { createHash } from 'node:crypto';
import { crc32, gunzipSync, inflateRawSync, inflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { type DeflateFrame, deflated } from '../../src/foundation/deflate.js';
import { mulberry32 } from '../../src/foundation/mulberry32.js';

// the engine's own zlib decompresses it: another implementation of RFC 1950, 1951 and 1952
const UNDO: Record<DeflateFrame, (bytes: Uint8Array) => Uint8Array> = {
  raw: inflateRawSync,
  zlib: inflateSync,
  gzip: gunzipSync,
};
const FRAMES: DeflateFrame[] = ['raw', 'zlib', 'gzip'];

const noise = (count: number): Uint8Array => {
  const random = mulberry32(count + 1);
  return Uint8Array.from({ length: count }, () => 256 * random());
};
const text = (count: number): Uint8Array =>
  new TextEncoder().encode(
    Array.from({ length: count }, (_, i) => `<vertex x="${(i * 0.37) % 90}"/>`).join('\n'),
  );

describe('deflated data', () => {
  it.each([0, 1, 65_535, 65_536, 65_537, 200_000])(
    '%d bytes of noise are restored in every frame',
    (count) => {
      const bytes = noise(count);
      for (const frame of FRAMES)
        expect(Buffer.compare(UNDO[frame](deflated(bytes, 4, frame)), bytes)).toBe(0);
    },
  );

  it('text is restored at every level, a higher one never larger than level 1', () => {
    const bytes = text(20_000);
    const sizes = [1, 2, 3, 4, 5, 6, 7, 8, 9].map((level) => {
      const packed = deflated(bytes, level, 'raw');
      expect(Buffer.compare(inflateRawSync(packed), bytes)).toBe(0);
      return packed.length;
    });
    expect(Math.max(...sizes)).toBe(sizes[0]);
    expect(sizes[5]).toBeLessThan(bytes.length / 4);
  });

  it('a gzip frame has no name and no time, and has the checksum and length of the data (RFC 1952, 2.3)', () => {
    const bytes = text(500);
    const packed = Buffer.from(deflated(bytes, 6, 'gzip'));
    expect([...packed.subarray(0, 8)]).toEqual([0x1f, 0x8b, 8, 0, 0, 0, 0, 0]);
    expect(packed.readUInt32LE(packed.length - 8)).toBe(crc32(bytes));
    expect(packed.readUInt32LE(packed.length - 4)).toBe(bytes.length);
  });

  it('a zlib frame has a header divisible by 31 (RFC 1950, 2.2)', () => {
    const packed = deflated(text(10), 3, 'zlib');
    expect(packed[0]! & 15).toBe(8);
    expect((256 * packed[0]! + packed[1]!) % 31).toBe(0);
  });

  // recorded once: a change in the library that changed bytes would change the checksums of stored packages
  it.each([
    [3, 'zlib', '8c726b7ded542938'],
    [4, 'raw', 'c3df9c9310b1fe18'],
    [6, 'gzip', '9a69d024c9710583'],
  ] as const)('level %d, %s: the same bytes as ever', (level, frame, hash) => {
    const bytes = text(20_000);
    expect(
      createHash('sha256')
        .update(deflated(bytes, level, frame))
        .digest('hex')
        .slice(0, 16),
    ).toBe(hash);
  });
});
