import { parentPort, receiveMessageOnPort } from 'node:worker_threads';
import { coarseCopy } from '../../mesh/coarse-copy.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { findSelfIntersections } from '../../mesh/self-intersection.js';
import type { SideMessage } from './side-work.js';

const port = parentPort!;
let mesh: TriangleMesh | undefined;

function answerTo(message: SideMessage): unknown {
  const { kind, positions, triangles, twin } = message;
  // the first message stays in memory as long as the thread
  delete message.twin;
  mesh = { positions: positions ?? mesh!.positions, triangles: triangles ?? mesh!.triangles };
  return kind === 'coarse' ? coarseCopy(mesh, twin) : findSelfIntersections(mesh);
}

// Thread of `side-work.ts`: answers the waiting requests, then ends. A thread that stayed alive would keep hundreds of megabytes that it no
// longer needs, since nothing triggers its garbage collection.
port.once('message', (first: SideMessage) => {
  port.postMessage(answerTo(first));
  for (let next = receiveMessageOnPort(port); next; next = receiveMessageOnPort(port))
    port.postMessage(answerTo(next.message));
  port.close();
});
