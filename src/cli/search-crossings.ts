import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { Finding } from '../foundation/finding.js';
import { crossingFindings } from '../mesh/load-surface.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { findSelfIntersections, type SelfIntersections } from '../mesh/self-intersection.js';

/** A search for crossing triangles that may still be running. */
export interface CrossingSearch {
  findings(): Promise<Finding[]>;
}

/** From this many triangles on a thread of its own pays for its start. */
const LEAST_FOR_THREAD = 150_000;

/**
 * Looks for triangles of a surface that cross each other. A large one is searched in a second thread while the caller goes on
 * measuring; in a worker process of a batch, where the cores are taken, at once. The answer is the same.
 */
export function searchCrossings(mesh: TriangleMesh, label: string): CrossingSearch {
  const isLarge = mesh.triangles.length / 3 >= LEAST_FOR_THREAD;
  const isWorker = process.send !== undefined;
  if (!isLarge || isWorker || availableParallelism() < 2) {
    const found = crossingFindings(findSelfIntersections(mesh), label);
    return { findings: () => Promise.resolve(found) };
  }
  const worker = new Worker(new URL('./crossings-worker.js', import.meta.url), { workerData: mesh });
  const answer = new Promise<SelfIntersections>((resolve, reject) => {
    worker.once('message', resolve);
    worker.once('error', reject);
  });
  // where the case turns out to be unusable nobody asks any more: the search must neither hold the program nor crash it
  answer.catch(() => undefined);
  worker.unref();
  return {
    findings: async () => {
      worker.ref();
      return crossingFindings(await answer, label);
    },
  };
}
