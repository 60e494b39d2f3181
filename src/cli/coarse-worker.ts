import { parentPort, workerData } from 'node:worker_threads';
import { coarsened } from '../mesh/coarsen.js';
import type { CoarseTask } from './coarse-structures.js';

/** Thread of `coarse-structures.ts`: one mesh in, its coarser copy out. */
const { mesh, edgeMm } = workerData as CoarseTask;
parentPort?.postMessage(coarsened(mesh, edgeMm));
