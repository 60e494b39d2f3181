/** The parts of the decoders that are used here; the packages have no types of their own. */
declare module '@cornerstonejs/codec-openjpeg/decodewasmjs' {
  export interface FrameInfo {
    width: number;
    height: number;
    bitsPerSample: number;
    componentCount: number;
  }
  /** One decoder of one frame. The buffers are views of the module's memory and are valid until `delete`. */
  export interface FrameDecoder {
    getEncodedBuffer(length: number): Uint8Array;
    decode(): void;
    getDecodedBuffer(): Uint8Array;
    getFrameInfo(): FrameInfo;
    delete(): void;
  }
  export interface Output {
    print: (line: string) => void;
    printErr: (line: string) => void;
  }
  const create: (output: Output) => Promise<{ J2KDecoder: new () => FrameDecoder }>;
  export default create;
}
declare module '@cornerstonejs/codec-charls/decodewasmjs' {
  import type { FrameDecoder, Output } from '@cornerstonejs/codec-openjpeg/decodewasmjs';
  const create: (output: Output) => Promise<{ JpegLSDecoder: new () => FrameDecoder }>;
  export default create;
}
declare module 'jpeg-lossless-decoder-js' {
  export class Decoder {
    /** Pixels as 16-bit words, or bytes if `bytesPerPixel` is 1. */
    decode(
      buffer: ArrayBuffer,
      offset: number,
      length: number,
      bytesPerPixel: number,
    ): Uint16Array | Uint8Array;
  }
}
