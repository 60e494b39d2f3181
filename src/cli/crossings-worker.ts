import { parentPort, workerData } from 'node:worker_threads';
import type { TriangleMesh } from '../mesh/mesh.js';
import { findSelfIntersections } from '../mesh/self-intersection.js';

/** Thread of `search-crossings.ts`: one mesh in, its crossings out. */
parentPort?.postMessage(findSelfIntersections(workerData as TriangleMesh));
