import { createHash } from 'node:crypto';
import { closeSync, openSync, readSync } from 'node:fs';
import { setImmediate as turn } from 'node:timers/promises';

/** Bytes read at once. */
const PIECE_BYTES = 1 << 18;
/** After this many bytes the event loop gets a turn, for signals and for workers waiting for the next case. */
const TURN_BYTES = 1 << 26;

/** The read buffer, allocated when first needed. */
let shared: Buffer | undefined;

/** The SHA-256 of a file, in hex, and the number of bytes hashed. */
export interface FileHash {
  sha256: string;
  bytes: number;
}

/**
 * Hashes a whole file. It is read in pieces, since a surface may have a gigabyte. The buffer is reused: with a new one for each of
 * hundreds of small files, garbage collection takes longer than hashing.
 */
export async function hashOfFile(path: string): Promise<FileHash> {
  const hash = createHash('sha256');
  shared ??= Buffer.allocUnsafeSlow(PIECE_BYTES);
  const file = openSync(path, 'r');
  let bytes = 0;
  try {
    // nothing else runs between a read and its update, so nothing else can write to the buffer
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
