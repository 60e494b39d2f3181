import { createHash } from 'node:crypto';
import { closeSync, openSync, readSync } from 'node:fs';
import { setImmediate as turn } from 'node:timers/promises';

/** Bytes that are read at once. */
const PIECE_BYTES = 1 << 18;
/** After so many bytes other work has its turn: signals, and workers that wait for the next case. */
const TURN_BYTES = 1 << 26;

/** Where every piece is read into; made when it is first needed. */
let shared: Buffer | undefined;

/** The sha256 of a file, in hex, and how many bytes it was taken over. */
export interface FileHash {
  sha256: string;
  bytes: number;
}

/**
 * Hashes a file to its end. Read in pieces: a surface may have a gigabyte. The buffer is used again, since a fresh one for each of
 * hundreds of small files keeps the garbage collection busy for longer than the hashing takes.
 */
export async function hashOfFile(path: string): Promise<FileHash> {
  const hash = createHash('sha256');
  shared ??= Buffer.allocUnsafeSlow(PIECE_BYTES);
  const file = openSync(path, 'r');
  let bytes = 0;
  try {
    // nothing else runs between a read and its update, so that nobody else can write into the buffer
    for (;;) {
      const count = readSync(file, shared, 0, PIECE_BYTES, null);
      if (count === 0) break;
      hash.update(count === PIECE_BYTES ? shared : shared.subarray(0, count));
      bytes += count;
      if (bytes % TURN_BYTES === 0) await turn();
    }
  } finally {
    closeSync(file);
  }
  return { sha256: hash.digest('hex'), bytes };
}
