import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { Finding } from '../../foundation/finding.js';
import { crossingFindings } from '../../mesh/load-surface.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { findSelfIntersections, type SelfIntersections } from '../../mesh/self-intersection.js';
import { type CoarseCopy, coarseCopy, isShownCoarser } from '../../mesh/coarse-copy.js';
import { LEAST_FOR_THREAD } from '../../mesh/shared-arrays.js';

/** A request to the second thread, which reads the large arrays without a copy. */
export interface SideTask {
  kind: 'coarse' | 'crossings';
  mesh: TriangleMesh;
  twin?: Int32Array;
}

interface Asked {
  task: SideTask;
  resolve(answer: unknown): void;
  reject(error: Error): void;
}

/**
 * Work on whole surfaces that measuring does not wait for: the coarser copy for pictures and print, and the search for crossing triangles.
 * For large surfaces a second thread does this in the order of the requests; it ends when no request is left. In a worker process of a
 * batch, where all cores are in use, and on a single core, it is done on this thread. The answers are the same.
 */
export class SideWork {
  private worker: Worker | undefined;
  private waiting = 0;
  private readonly asked: Asked[] = [];
  private readonly copies = new Map<TriangleMesh, Promise<CoarseCopy>>();
  private readonly hasThread = process.send === undefined && availableParallelism() >= 2;

  /** Starts making the coarser copy of a surface that `coarseCopy` will return. */
  beginCopy(mesh: TriangleMesh, twin?: Int32Array): void {
    if (isShownCoarser(mesh) && this.isForThread(mesh))
      this.copies.set(mesh, this.ask({ kind: 'coarse', mesh, ...(twin && { twin }) }));
  }

  async coarseCopy(mesh: TriangleMesh, twin?: Int32Array): Promise<CoarseCopy> {
    const begun = this.copies.get(mesh);
    return begun ? this.wait(begun) : coarseCopy(mesh, twin);
  }

  /** Starts the search for crossing triangles of a surface; it gives findings on `label`. */
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
    const answer = new Promise((resolve, reject) => this.asked.push({ task, resolve, reject }));
    this.send(task);
    // if the case turns out to be unusable, nobody asks for the answer: the thread must neither keep the program running nor crash it
    answer.catch(() => undefined);
    return answer as Promise<T>;
  }

  private send(task: SideTask): void {
    this.worker ??= this.start();
    this.worker.postMessage(task);
  }

  private start(): Worker {
    const worker = new Worker(new URL('./side-worker.js', import.meta.url));
    worker.on('message', (answer) => this.asked.shift()?.resolve(answer));
    worker.on('error', (error) => {
      for (const { reject } of this.asked.splice(0)) reject(error);
    });
    worker.on('exit', () => {
      this.worker = undefined;
      // requests that were sent while it was ending
      for (const { task } of this.asked) this.send(task);
    });
    if (this.waiting === 0) worker.unref();
    return worker;
  }

  /** Keeps the program running until the answer arrives. */
  private async wait<T>(answer: Promise<T>): Promise<T> {
    this.waiting++;
    this.worker?.ref();
    try {
      return await answer;
    } finally {
      if (--this.waiting === 0) this.worker?.unref();
    }
  }
}
