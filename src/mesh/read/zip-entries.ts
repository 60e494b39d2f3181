import { Inflate } from 'fflate';
import { quoted } from '../../foundation/quoted-text.js';
import { EXPORT_AGAIN, refuse } from './mesh-file.js';

export interface ZipEntry {
  name: string;
  method: number;
  compressedBytes: number;
  bytes: number;
  headerOffset: number;
}

/** Greatest uncompressed size of one entry. */
const MOST_UNPACKED = 2 ** 30;
/** Above this many bytes, the greatest ratio of an entry's size to its compressed size. */
const RATIO_FREE_BYTES = 32 * 2 ** 20;
const MOST_RATIO = 100;
const MOST_ENTRIES = 10_000;

/** The central directory of a ZIP archive (APPNOTE 4.3, without ZIP64, encryption and several disks). */
export function zipEntries(bytes: Uint8Array, file: string): Map<string, ZipEntry> {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const bad = (what: string): never => refuse(file, 'ZIP package', what, EXPORT_AGAIN);
  let end = bytes.length - 22;
  const lowest = Math.max(0, end - 65_535);
  while (end >= lowest && view.getUint32(end, true) !== 0x06054b50) end--;
  if (end < lowest || end < 0) bad('it has no central directory, so it is cut off');
  const count = view.getUint16(end + 10, true);
  let p = view.getUint32(end + 16, true);
  if (count === 0xffff || p === 0xffffffff) bad('it is in the ZIP64 form, which is not read');
  if (count > MOST_ENTRIES) bad(`it has ${count} entries`);
  const entries = new Map<string, ZipEntry>();
  for (let i = 0; i < count; i++) {
    if (p + 46 > end || view.getUint32(p, true) !== 0x02014b50) bad('its central directory is damaged');
    const nameLength = view.getUint16(p + 28, true);
    const skip = 46 + nameLength + view.getUint16(p + 30, true) + view.getUint16(p + 32, true);
    if (p + skip > end) bad('its central directory is damaged');
    const name = new TextDecoder().decode(bytes.subarray(p + 46, p + 46 + nameLength));
    if (view.getUint16(p + 8, true) & 1) bad(`the entry ${quoted(name)} is encrypted`);
    const entry = {
      name,
      method: view.getUint16(p + 10, true),
      compressedBytes: view.getUint32(p + 20, true),
      bytes: view.getUint32(p + 24, true),
      headerOffset: view.getUint32(p + 42, true),
    };
    if (entry.bytes === 0xffffffff || entry.compressedBytes === 0xffffffff) {
      bad('it is in the ZIP64 form, which is not read');
    }
    const key = name.replace(/^\/+/, '').toLowerCase();
    if (entries.has(key)) bad(`the entry ${quoted(name)} appears twice`);
    entries.set(key, entry);
    p += skip;
  }
  return entries;
}

/**
 * Decompresses one entry piece by piece. Rejected beforehand if its stated size is beyond the limits, and during decompression if it
 * exceeds the stated size.
 */
export function unpackEntry(
  bytes: Uint8Array,
  entry: ZipEntry,
  file: string,
  take: (piece: Uint8Array) => void,
): void {
  const bad = (what: string, todo = EXPORT_AGAIN): never =>
    refuse(file, `entry ${quoted(entry.name)}`, what, todo);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const h = entry.headerOffset;
  if (h + 30 > bytes.length || view.getUint32(h, true) !== 0x04034b50) bad('its header is damaged');
  const start = h + 30 + view.getUint16(h + 26, true) + view.getUint16(h + 28, true);
  const end = start + entry.compressedBytes;
  if (end > bytes.length) bad('the file is cut off');
  if (entry.bytes > MOST_UNPACKED) bad(`it unpacks to ${entry.bytes} bytes`, 'Reduce the surface');
  if (entry.bytes > RATIO_FREE_BYTES && entry.bytes > MOST_RATIO * entry.compressedBytes) {
    bad(`it claims to unpack ${entry.compressedBytes} bytes to ${entry.bytes}, which no surface does`);
  }
  const packed = bytes.subarray(start, end);
  if (entry.method === 0) {
    if (entry.bytes !== entry.compressedBytes) bad('its two sizes differ although it is not compressed');
    take(packed);
    return;
  }
  if (entry.method !== 8) bad(`its compression method ${entry.method} is not deflate`);
  let unpacked = 0;
  const inflate = new Inflate((piece) => {
    unpacked += piece.length;
    if (unpacked > entry.bytes) bad(`it unpacks to more than the ${entry.bytes} bytes it states`);
    take(piece);
  });
  const step = 65_536;
  try {
    for (let p = 0; p < packed.length; p += step) {
      inflate.push(packed.subarray(p, p + step), p + step >= packed.length);
    }
  } catch (error) {
    if (error instanceof Error && 'code' in error) bad('its compressed data are damaged');
    throw error;
  }
  if (unpacked !== entry.bytes) bad(`it unpacks to ${unpacked} bytes and states ${entry.bytes}`);
}
