import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';

/** The sha256 of a file, in hex. Read in pieces: a surface may have a gigabyte. */
export async function sha256OfFile(path: string): Promise<string> {
  const hash = createHash('sha256');
  for await (const piece of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(piece);
  return hash.digest('hex');
}
