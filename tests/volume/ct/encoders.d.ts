/** The encoders that tests make compressed streams with. */
declare module '@cornerstonejs/codec-openjpeg/wasmjs' {
  interface Encoder {
    getDecodedBuffer(info: {
      width: number;
      height: number;
      bitsPerSample: number;
      componentCount: number;
      isSigned: boolean;
    }): Uint8Array;
    encode(): void;
    getEncodedBuffer(): Uint8Array;
    delete(): void;
  }
  const create: (output: {
    print: (line: string) => void;
    printErr: (line: string) => void;
  }) => Promise<{ J2KEncoder: new () => Encoder }>;
  export default create;
}
declare module '@cornerstonejs/codec-charls/wasmjs' {
  interface Encoder {
    getDecodedBuffer(info: {
      width: number;
      height: number;
      bitsPerSample: number;
      componentCount: number;
    }): Uint8Array;
    setNearLossless(error: number): void;
    encode(): void;
    getEncodedBuffer(): Uint8Array;
    delete(): void;
  }
  const create: (output: {
    print: (line: string) => void;
    printErr: (line: string) => void;
  }) => Promise<{ JpegLSEncoder: new () => Encoder }>;
  export default create;
}
