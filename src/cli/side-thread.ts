import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';

/** Work that goes on beside the caller's. */
export interface SideWork<T> {
  answer(): Promise<T>;
}

/**
 * Runs a module of this folder in a second thread with `data`; its first message is the answer. Undefined where there is no core to
 * spare: on a machine with one, and in a worker process of a batch.
 */
export function beside<T>(module: `./${string}.js`, data: unknown): SideWork<T> | undefined {
  if (process.connected || availableParallelism() < 2) return undefined;
  const worker = new Worker(new URL(module, import.meta.url), { workerData: data });
  const answer = new Promise<T>((resolve, reject) => {
    worker.once('message', resolve);
    worker.once('error', reject);
  });
  // where the case turns out to be unusable nobody asks any more: the work must neither hold the program nor crash it
  answer.catch(() => undefined);
  worker.unref();
  return {
    answer: () => {
      worker.ref();
      return answer;
    },
  };
}
