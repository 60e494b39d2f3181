import { deflated } from '../../foundation/deflate.js';
import { joinedBytes } from '../../foundation/joined-bytes.js';

const SIGNATURE = [137, 80, 78, 71, 13, 10, 26, 10];

/** The remainder table, one entry per byte. */
const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let crc = byte;
  for (let k = 0; k < 8; k++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  return crc;
});

/** CRC-32 as in ISO/IEC 15948, annex D. */
function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (let i = 0; i < bytes.length; i++) crc = (crc >>> 8) ^ CRC_TABLE[(crc ^ bytes[i]!) & 255]!;
  return (crc ^ 0xffffffff) >>> 0;
}

function chunk(type: string, data: Uint8Array): Uint8Array {
  const whole = new Uint8Array(12 + data.length);
  const view = new DataView(whole.buffer);
  view.setUint32(0, data.length);
  for (let i = 0; i < 4; i++) whole[4 + i] = type.charCodeAt(i);
  whole.set(data, 8);
  view.setUint32(8 + data.length, crc32(whole.subarray(4, 8 + data.length)));
  return whole;
}

/** Compression level. */
const LEVEL = 2;

/**
 * Writes a PNG (ISO/IEC 15948) of 8-bit RGB or grey. Drawn views are smaller without a filter than with any of the standard's filters.
 * `pixels`: 3 bytes each, or 1 for grey; rows from the top. Throws RangeError when their length does not fit the size.
 */
export function encodePng(
  pixels: Uint8Array,
  width: number,
  height: number,
  channels: 1 | 3 = 3,
): Uint8Array {
  if (pixels.length !== channels * width * height)
    throw new RangeError(`${pixels.length} bytes are not ${width} x ${height} pixels`);
  const header = new Uint8Array(13);
  const view = new DataView(header.buffer);
  view.setUint32(0, width);
  view.setUint32(4, height);
  // Bit depth 8, colour type 2 (RGB) or 0 (grey), deflate, adaptive filters, no interlace.
  header.set([8, channels === 3 ? 2 : 0, 0, 0, 0], 8);
  // Each row starts with its filter: none.
  const line = channels * width;
  const rows = new Uint8Array(height * (1 + line));
  for (let y = 0; y < height; y++) rows.set(pixels.subarray(y * line, (y + 1) * line), y * (1 + line) + 1);
  return joinedBytes([
    Uint8Array.from(SIGNATURE),
    chunk('IHDR', header),
    chunk('IDAT', deflated(rows, LEVEL, 'zlib')),
    chunk('IEND', new Uint8Array(0)),
  ]);
}
