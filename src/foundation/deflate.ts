import { existsSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { joinedBytes } from './joined-bytes.js';

/** The frame around the compressed data: none, that of RFC 1950 (as in PNG) or that of RFC 1952 (a separate file). */
export type DeflateFrame = 'raw' | 'zlib' | 'gzip';

/** zlib, compiled to WebAssembly, as included in the library @zip.js/zip.js. */
interface Zlib {
  memory: WebAssembly.Memory;
  _initialize(): void;
  malloc(bytes: number): number;
  free(at: number): void;
  deflate_new(): number;
  deflate_init(stream: number, level: number): number;
  deflate_init_raw(stream: number, level: number): number;
  deflate_init_gzip(stream: number, level: number): number;
  /** Number of bytes written, in the lower 24 bits; above them 1 at the end of the data, negative for an error. */
  deflate_process(
    stream: number,
    from: number,
    count: number,
    to: number,
    room: number,
    flush: number,
  ): number;
  deflate_last_consumed(stream: number): number;
  deflate_end(stream: number): number;
}

const BUFFER = 65_536;
const NO_FLUSH = 0;
const FINISH = 4;
const OPEN = { raw: 'deflate_init_raw', zlib: 'deflate_init', gzip: 'deflate_init_gzip' } as const;

let loaded: Zlib | undefined;

/**
 * Compresses bytes (RFC 1951) at a level of 1 to 9. The engine's own zlib is not used, because its output depends on the processor and the
 * release. A gzip frame states no time and no name. Same input, same bytes on every machine.
 */
export function deflated(bytes: Uint8Array, level: number, frame: DeflateFrame): Uint8Array<ArrayBuffer> {
  loaded ??= load();
  const zlib = loaded;
  const from = zlib.malloc(BUFFER);
  const to = zlib.malloc(BUFFER);
  const stream = zlib.deflate_new();
  try {
    if (from === 0 || to === 0 || stream === 0 || zlib[OPEN[frame]](stream, level) !== 0)
      throw new RangeError('not enough memory to compress');
    const parts: Uint8Array[] = [];
    let isOver = false;
    for (let at = 0; !isOver; ) {
      const count = Math.min(BUFFER, bytes.length - at);
      new Uint8Array(zlib.memory.buffer, from, count).set(bytes.subarray(at, at + count));
      const answer = zlib.deflate_process(stream, from, count, to, BUFFER, count === 0 ? FINISH : NO_FLUSH);
      const state = answer >> 24;
      if (state < 0) throw new Error(`compression failed (${state})`);
      const written = answer & 0xffffff;
      if (written > 0) parts.push(new Uint8Array(zlib.memory.buffer.slice(to, to + written)));
      at += zlib.deflate_last_consumed(stream);
      isOver = state === 1;
    }
    return joinedBytes(parts);
  } finally {
    zlib.deflate_end(stream);
    zlib.free(from);
    zlib.free(to);
  }
}

/** The built program has the file in its own folder; when running from the sources it is the library's. */
function load(): Zlib {
  const built = new URL('../libraries/zlib.wasm', import.meta.url);
  const file = existsSync(built)
    ? built
    : createRequire(import.meta.url).resolve('@zip.js/zip.js/dist/zip-module.wasm');
  const { exports } = new WebAssembly.Instance(new WebAssembly.Module(readFileSync(file)));
  const zlib = exports as unknown as Zlib;
  zlib._initialize();
  return zlib;
}
