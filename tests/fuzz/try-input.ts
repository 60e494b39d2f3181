import { InputFailure } from '../../src/foundation/failure.js';
import { hasInvisible } from '../../src/foundation/quoted-text.js';
import { Chance } from './mutate.js';

/** A reader with the function that mutates its inputs. */
export interface FuzzedReader {
  name: string;
  /** One mutated input. */
  input(chance: Chance): Uint8Array;
  /** Reads it as the commands do. Returns what is wrong with the answer; throws InputFailure where the input is refused. */
  read(bytes: Uint8Array): Promise<string | undefined>;
}

/** Memory that one small input may add before it counts as a failure, bytes. */
const MOST_MEMORY = 160 * 2 ** 20;

/** The mutated input with that number. */
export function inputOf(reader: FuzzedReader, seed: number, number: number): Uint8Array {
  let mixed = seed >>> 0;
  for (const c of reader.name) mixed = Math.imul(mixed ^ c.charCodeAt(0), 0x01000193) >>> 0;
  return reader.input(new Chance((Math.imul(mixed, 0x9e3779b1) ^ Math.imul(number + 1, 0x85ebca6b)) >>> 0));
}

export interface TryResult {
  /** Whether the input was read; otherwise it was refused. */
  isRead: boolean;
  /** What is wrong; absent where the input was read or refused properly. */
  failure?: string;
}

/** Tries one input: anything but a complete answer or a refusal in plain lines is a failure. */
export async function tryInput(reader: FuzzedReader, bytes: Uint8Array): Promise<TryResult> {
  const before = process.resourceUsage().maxRSS * 1024;
  const tried = await answered(reader, bytes);
  const added = process.resourceUsage().maxRSS * 1024 - before;
  if (!tried.failure && added > MOST_MEMORY)
    return { ...tried, failure: `${bytes.length} bytes took ${Math.round(added / 2 ** 20)} MiB of memory` };
  return tried;
}

async function answered(reader: FuzzedReader, bytes: Uint8Array): Promise<TryResult> {
  try {
    const failure = await reader.read(bytes);
    return failure === undefined ? { isRead: true } : { isRead: true, failure };
  } catch (error) {
    if (!(error instanceof InputFailure))
      return {
        isRead: false,
        failure: error instanceof Error ? (error.stack ?? error.message) : `thrown: ${String(error)}`,
      };
    const bad = error.problems.find((line) => line === '' || line.length > 4000 || hasInvisible(line));
    if (error.problems.length === 0 || bad !== undefined)
      return {
        isRead: false,
        failure: `the refusal is no plain line: ${JSON.stringify(bad ?? '').slice(0, 300)}`,
      };
    return { isRead: false };
  }
}
