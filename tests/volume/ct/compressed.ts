import createCharls from '@cornerstonejs/codec-charls/wasmjs';
import createOpenJpeg from '@cornerstonejs/codec-openjpeg/wasmjs';
import { type CtStack, pixelsOf } from './ct-bytes.js';

const silent = () => ({ print: (): void => {}, printErr: (): void => {} });

const infoOf = ({ columns, rows, bitsStored, isSigned }: CtStack) => ({
  width: columns,
  height: rows,
  bitsPerSample: bitsStored,
  componentCount: 1,
  isSigned,
});

const slicesOf = ({ slices }: CtStack): number[] => Array.from({ length: slices }, (_, k) => k);

/** Each slice as a lossless JPEG 2000 codestream. */
export async function jpeg2000Of(stack: CtStack): Promise<Uint8Array[]> {
  const { J2KEncoder } = await createOpenJpeg(silent());
  return slicesOf(stack).map((k) => {
    const encoder = new J2KEncoder();
    encoder.getDecodedBuffer(infoOf(stack)).set(pixelsOf(stack, k));
    encoder.encode();
    const bytes = Uint8Array.from(encoder.getEncodedBuffer());
    encoder.delete();
    return bytes;
  });
}

/** Each slice as a lossless JPEG-LS stream. */
export async function jpegLsOf(stack: CtStack): Promise<Uint8Array[]> {
  const { JpegLSEncoder } = await createCharls(silent());
  return slicesOf(stack).map((k) => {
    const encoder = new JpegLSEncoder();
    encoder.getDecodedBuffer(infoOf(stack)).set(pixelsOf(stack, k));
    encoder.setNearLossless(0);
    encoder.encode();
    const bytes = Uint8Array.from(encoder.getEncodedBuffer());
    encoder.delete();
    return bytes;
  });
}

/** Each slice in RLE (DICOM PS3.5 annex G), literal runs only. */
export function literalRle(stack: CtStack): Uint8Array[] {
  return slicesOf(stack).map((k) => {
    const pixels = pixelsOf(stack, k);
    const planes = [1, 0].map((byte) => {
      const plane = pixels.filter((_, i) => i % 2 === byte);
      const out: number[] = [];
      for (let at = 0; at < plane.length; at += 128) {
        const run = plane.subarray(at, at + 128);
        out.push(run.length - 1, ...run);
      }
      if (out.length % 2 === 1) out.push(128);
      return out;
    });
    const header = new DataView(new ArrayBuffer(64));
    header.setUint32(0, 2, true);
    header.setUint32(4, 64, true);
    header.setUint32(8, 64 + planes[0].length, true);
    return Uint8Array.from([...new Uint8Array(header.buffer), ...planes[0], ...planes[1]]);
  });
}
