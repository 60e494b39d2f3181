import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { Finding } from '../../foundation/finding.js';
import { crossingFindings } from '../../mesh/load-surface.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { findSelfIntersections, type SelfIntersections } from '../../mesh/self-intersection.js';
import { type CoarseCopy, coarseCopy, isShownCoarser } from '../../mesh/coarse-copy.js';

/** What the second thread is asked for, one thing after the other. */
export type SideTask = { mesh: TriangleMesh } & (
  | { kind: 'coarse'; twin: Int32Array | undefined }
  | { kind: 'crossings' }
);

/** From this many triangles on a thread of its own pays for its start. */
const LEAST_FOR_THREAD = 150_000;

/**
 * Work on whole surfaces that measuring does not wait for: the coarser copy for pictures and print, and the search for
 * crossing triangles. That on large surfaces is done by one second thread in the order asked; in a worker process of a
 * batch, where the cores are taken, and on one core it is done here. The answers are the same.
 */
export class SideWork {
  private worker: Worker | undefined;
  private readonly asked: { resolve(answer: unknown): void; reject(error: Error): void }[] = [];
  private readonly copies = new Map<TriangleMesh, Promise<CoarseCopy>>();
  private readonly hasThread = process.send === undefined && availableParallelism() >= 2;

  /** Begins the coarser copy of a surface that `coarseCopy` will be asked for. */
  beginCopy(mesh: TriangleMesh, twin?: Int32Array): void {
    if (isShownCoarser(mesh) && this.isForThread(mesh))
      this.copies.set(mesh, this.ask({ kind: 'coarse', mesh, twin }));
  }

  async coarseCopy(mesh: TriangleMesh, twin?: Int32Array): Promise<CoarseCopy> {
    const begun = this.copies.get(mesh);
    return begun ? this.wait(begun) : coarseCopy(mesh, twin);
  }

  /** Begins the search for triangles of a surface that cross each other; its result are findings about `label`. */
  beginCrossings(mesh: TriangleMesh, label: string): () => Promise<Finding[]> {
    if (this.isForThread(mesh)) {
      const found = this.ask<SelfIntersections>({ kind: 'crossings', mesh });
      return async () => crossingFindings(await this.wait(found), label);
    }
    const findings = crossingFindings(findSelfIntersections(mesh), label);
    return () => Promise.resolve(findings);
  }

  private isForThread(mesh: TriangleMesh): boolean {
    return this.hasThread && mesh.triangles.length / 3 >= LEAST_FOR_THREAD;
  }

  private ask<T>(task: SideTask): Promise<T> {
    this.worker ??= this.start();
    this.worker.postMessage(task);
    const answer = new Promise((resolve, reject) => this.asked.push({ resolve, reject }));
    // where the case turns out to be unusable nobody asks any more: the thread must neither hold the program nor crash it
    answer.catch(() => undefined);
    return answer as Promise<T>;
  }

  private start(): Worker {
    const worker = new Worker(new URL('./side-worker.js', import.meta.url));
    worker.on('message', (answer) => this.asked.shift()?.resolve(answer));
    worker.on('error', (error) => {
      this.worker = undefined;
      for (const { reject } of this.asked.splice(0)) reject(error);
    });
    worker.unref();
    return worker;
  }

  /** Keeps the program running until the answer is there. */
  private async wait<T>(answer: Promise<T>): Promise<T> {
    this.worker?.ref();
    try {
      return await answer;
    } finally {
      this.worker?.unref();
    }
  }
}
