import { parentPort, workerData } from 'node:worker_threads';
import { READERS } from './readers.js';
import { inputOf, tryInput } from './try-input.js';

/** What the thread is given: which inputs of which reader. */
export interface Task {
  reader: string;
  seed: number;
  from: number;
  to: number;
  /** Two counters shared with the main thread: the number of the current input, and how many were read. */
  progress: SharedArrayBuffer;
}

/** What it reports about an input that failed, and at the end. */
export type Said = { number: number; failure: string } | { done: true };

const { reader: name, seed, from, to, progress } = workerData as Task;
const reader = READERS.find((each) => each.name === name)!;
const counters = new Int32Array(progress);
let current = from;
const say = (said: Said): void => parentPort!.postMessage(said);
// what is thrown after an answer was given, for example by a stream
process.on('uncaughtException', (error) => say({ number: current, failure: `thrown later: ${error.stack}` }));
process.on('unhandledRejection', (error) =>
  say({ number: current, failure: `rejected later: ${String(error)}` }),
);
try {
  for (; current < to; current++) {
    Atomics.store(counters, 0, current);
    const { isRead, failure } = await tryInput(reader, inputOf(reader, seed, current));
    if (isRead) Atomics.add(counters, 1, 1);
    if (failure !== undefined) say({ number: current, failure });
  }
} catch (error) {
  say({ number: current, failure: `no input could be made: ${(error as Error).stack}` });
}
say({ done: true });
