/** One case that is waiting or running. */
export interface Load {
  /** Bytes of its meshes and images. */
  bytes: number;
}

/** Memory assumed for one case in addition to its meshes (the program with its libraries), bytes. */
const BASE_BYTES = 200e6;
/** Memory for each byte of a binary mesh: 41 measured on a whole plan of 0.41 million triangles (20.7 MB, peak 1048 MB). */
const BYTES_PER_BYTE = 45;

/** Memory assumed to be needed for a case, bytes. */
export const memoryNeeded = ({ bytes }: Load): number => BASE_BYTES + BYTES_PER_BYTE * bytes;

/**
 * The waiting case that may start now: the first that fits into memory with those running. A case larger than the whole memory starts
 * alone. Undefined: wait until one ends.
 */
export function nextToStart<T extends Load>(
  waiting: readonly T[],
  running: readonly Load[],
  jobs: number,
  memoryBytes: number,
): T | undefined {
  if (running.length >= jobs) return undefined;
  if (running.length === 0) return waiting[0];
  const taken = running.reduce((sum, load) => sum + memoryNeeded(load), 0);
  return waiting.find((load) => taken + memoryNeeded(load) <= memoryBytes);
}
