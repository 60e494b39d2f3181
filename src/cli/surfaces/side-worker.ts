import { parentPort, receiveMessageOnPort } from 'node:worker_threads';
import { coarseCopy } from '../../mesh/coarse-copy.js';
import { findSelfIntersections } from '../../mesh/self-intersection.js';
import type { SideTask } from './side-work.js';

const port = parentPort!;

const answerTo = ({ kind, mesh, twin }: SideTask): unknown =>
  kind === 'coarse' ? coarseCopy(mesh, twin) : findSelfIntersections(mesh);

// Thread of `side-work.ts`: answers the waiting requests, then ends. A thread that stayed alive would keep hundreds of megabytes that it no
// longer needs, since nothing triggers its garbage collection.
port.once('message', (first: SideTask) => {
  port.postMessage(answerTo(first));
  for (let next = receiveMessageOnPort(port); next; next = receiveMessageOnPort(port))
    port.postMessage(answerTo(next.message));
  port.close();
});
