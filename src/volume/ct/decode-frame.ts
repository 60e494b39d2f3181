import type { FrameDecoder } from '@cornerstonejs/codec-openjpeg/decodewasmjs';
import { syntaxName } from './transfer-syntax.js';

/** The expected shape of a frame. */
export interface FrameShape {
  rows: number;
  columns: number;
  bitsAllocated: number;
}

/** A frame that cannot be decoded; the message is the end of a sentence. */
export class DamagedFrame extends Error {}

const damaged = (): never => {
  throw new DamagedFrame('its compressed pixels are damaged or cut off');
};

/**
 * The pixels of one compressed frame, little endian, one sample per pixel. The size stated in the stream is compared with the header, and
 * its end is checked, because decoders return half a picture without reporting an error. Throws `DamagedFrame`.
 */
export async function decodeFrame(
  stream: Uint8Array,
  syntax: string,
  shape: FrameShape,
): Promise<Uint8Array> {
  const name = syntaxName(syntax);
  if (name === 'RLE') return runLengths(stream, shape);
  const body = withoutPadding(stream);
  const { columns, rows, bits } = name.startsWith('JPEG 2000') ? codestreamSize(body) : frameSize(body);
  if (columns !== shape.columns || rows !== shape.rows)
    throw new DamagedFrame(
      `its compressed pixels are ${columns} x ${rows}, where its header says ${shape.columns} x ${shape.rows}`,
    );
  if (bits > shape.bitsAllocated || bits < 2) damaged();
  const pixels = name === 'JPEG lossless' ? await losslessJpeg(body, bits) : await byModule(body, name);
  const count = shape.rows * shape.columns;
  // pixels of up to 8 bits come as bytes, whatever the header allocates
  if (shape.bitsAllocated === 16 && pixels.length === count) return widened(pixels);
  if (pixels.length !== (count * shape.bitsAllocated) / 8) damaged();
  return pixels;
}

const widened = (pixels: Uint8Array): Uint8Array => new Uint8Array(Uint16Array.from(pixels).buffer);

/** The number of bytes must be even, so one padding byte may follow the end of image (FFD9). */
function withoutPadding(stream: Uint8Array): Uint8Array {
  for (const length of [stream.length, stream.length - 1])
    if (length > 4 && stream[length - 2] === 0xff && stream[length - 1] === 0xd9)
      return stream.subarray(0, length);
  return damaged();
}

interface Size {
  rows: number;
  columns: number;
  bits: number;
}

/** Size in the frame header of a JPEG or JPEG-LS stream (ITU-T T.81 B.2.2, T.87 C.2.2), lossless processes only. */
function frameSize(stream: Uint8Array): Size {
  if (stream[0] !== 0xff || stream[1] !== 0xd8) damaged();
  let at = 2;
  while (at + 10 < stream.length) {
    if (stream[at] !== 0xff) damaged();
    const marker = stream[at + 1];
    if (marker === 0xff) {
      at++;
      continue;
    }
    if (marker === 0xc3 || marker === 0xf7) {
      if (stream[at + 9] !== 1) damaged();
      return { bits: stream[at + 4], rows: word(stream, at + 5), columns: word(stream, at + 7) };
    }
    if (marker === 0xda || marker === 0xd9) break;
    at += 2 + word(stream, at + 2);
  }
  return damaged();
}

/** Size in the SIZ segment of a JPEG 2000 codestream (ITU-T T.800 A.5.1). */
function codestreamSize(stream: Uint8Array): Size {
  const isStart = [0xff, 0x4f, 0xff, 0x51].every((byte, i) => stream[i] === byte);
  if (!isStart || stream.length < 46 || word(stream, 40) !== 1) return damaged();
  const long = (at: number): number => word(stream, at) * 65536 + word(stream, at + 2);
  return { columns: long(8) - long(16), rows: long(12) - long(20), bits: (stream[42] & 0x7f) + 1 };
}

const word = (bytes: Uint8Array, at: number): number => bytes[at] * 256 + bytes[at + 1];

async function losslessJpeg(stream: Uint8Array, bits: number): Promise<Uint8Array> {
  const { Decoder } = await import('jpeg-lossless-decoder-js');
  try {
    const { buffer, byteOffset, length } = stream;
    const decoded = new Decoder().decode(buffer as ArrayBuffer, byteOffset, length, bits <= 8 ? 1 : 2);
    return new Uint8Array(decoded.buffer, decoded.byteOffset, decoded.byteLength);
  } catch {
    return damaged();
  }
}

let complaints: string[] = [];
/** A module keeps the memory passed to it, so each needs its own. */
const output = () => ({
  print: (line: string): void => {
    if (!line.startsWith('[INFO]')) complaints.push(line);
  },
  printErr: (line: string): void => {
    complaints.push(line);
  },
});
let openJpeg: Promise<new () => FrameDecoder> | undefined;
let charls: Promise<new () => FrameDecoder> | undefined;

async function byModule(stream: Uint8Array, name: string): Promise<Uint8Array> {
  const Decoder = await (name.startsWith('JPEG 2000') ? jpeg2000() : jpegLs());
  complaints = [];
  const decoder = new Decoder();
  try {
    decoder.getEncodedBuffer(stream.length).set(stream);
    decoder.decode();
    const pixels = Uint8Array.from(decoder.getDecodedBuffer());
    return complaints.length > 0 ? damaged() : pixels;
  } catch {
    // a module that failed midway is not reused
    openJpeg = undefined;
    charls = undefined;
    return damaged();
  } finally {
    freed(decoder);
  }
}

function freed(decoder: FrameDecoder): void {
  try {
    decoder.delete();
  } catch {
    // its module has ended
  }
}

function jpeg2000(): Promise<new () => FrameDecoder> {
  openJpeg ??= import('@cornerstonejs/codec-openjpeg/decodewasmjs')
    .then(({ default: create }) => create(output()))
    .then(({ J2KDecoder }) => J2KDecoder);
  return openJpeg;
}

function jpegLs(): Promise<new () => FrameDecoder> {
  charls ??= import('@cornerstonejs/codec-charls/decodewasmjs')
    .then(({ default: create }) => create(output()))
    .then(({ JpegLSDecoder }) => JpegLSDecoder);
  return charls;
}

/** RLE of DICOM PS3.5 annex G: one segment for each byte of a pixel, the high one first. A segment must fill its plane. */
function runLengths(stream: Uint8Array, { rows, columns, bitsAllocated }: FrameShape): Uint8Array {
  const planes = bitsAllocated / 8;
  const count = rows * columns;
  if (stream.length < 64) damaged();
  const header = new DataView(stream.buffer, stream.byteOffset, 64);
  if (header.getUint32(0, true) !== planes) damaged();
  const pixels = new Uint8Array(count * planes);
  for (let plane = 0; plane < planes; plane++) {
    let at = header.getUint32(4 + 4 * plane, true);
    const end = plane + 1 < planes ? header.getUint32(8 + 4 * plane, true) : stream.length;
    if (at < 64 || end > stream.length) damaged();
    let filled = 0;
    while (filled < count && at < end) {
      const code = stream[at++];
      if (code === 128) continue;
      const isRun = code > 128;
      const length = isRun ? 257 - code : code + 1;
      if (filled + length > count || at + (isRun ? 1 : length) > end) damaged();
      for (let k = 0; k < length; k++)
        pixels[(filled + k) * planes + planes - 1 - plane] = stream[isRun ? at : at + k];
      at += isRun ? 1 : length;
      filled += length;
    }
    if (filled < count) damaged();
  }
  return pixels;
}
