import type { SliceHeader } from './image-header.js';
import { isBigEndian } from './transfer-syntax.js';

const LEAST = -32768;
const MOST = 32767;

/**
 * Hounsfield values of one frame from its stored pixels (DICOM C.7.6.3 and C.11.1): slope · stored + intercept, rounded to integers and
 * clamped to 16 bits. Bits above the stored ones are masked. `bytes` holds exactly the frame.
 */
export function fillValues(
  bytes: Uint8Array,
  slice: SliceHeader,
  isDecoded: boolean,
  into: Int16Array,
): void {
  const { pixels, slope, intercept } = slice;
  const { bitsAllocated, bitsStored, isSigned } = pixels;
  const isLittle = isDecoded || !isBigEndian(pixels.syntax);
  const isWhole = slope === 1 && Number.isInteger(intercept);
  const spare = 32 - bitsStored;
  for (let i = 0; i < into.length; i++) {
    const raw =
      bitsAllocated === 8
        ? bytes[i]
        : isLittle
          ? bytes[2 * i] | (bytes[2 * i + 1] << 8)
          : bytes[2 * i + 1] | (bytes[2 * i] << 8);
    const stored = isSigned ? (raw << spare) >> spare : (raw << spare) >>> spare;
    const value = isWhole ? stored + intercept : Math.round(stored * slope + intercept);
    into[i] = Math.max(LEAST, Math.min(value, MOST));
  }
}
