import { parentPort } from 'node:worker_threads';
import { findSelfIntersections } from '../../mesh/self-intersection.js';
import { coarseCopy } from '../../mesh/coarse-copy.js';
import type { SideTask } from './side-work.js';

/** Thread of `side-work.ts`: one task in, its answer out. */
parentPort?.on('message', (task: SideTask) => {
  parentPort?.postMessage(
    task.kind === 'coarse' ? coarseCopy(task.mesh, task.twin) : findSelfIntersections(task.mesh),
  );
});
