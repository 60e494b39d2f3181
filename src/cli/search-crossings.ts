import type { Finding } from '../foundation/finding.js';
import { crossingFindings } from '../mesh/load-surface.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { findSelfIntersections, type SelfIntersections } from '../mesh/self-intersection.js';
import { beside } from './side-thread.js';

/** A search for crossing triangles that may still be running. */
export interface CrossingSearch {
  findings(): Promise<Finding[]>;
}

/** From this many triangles on a thread of its own pays for its start. */
const LEAST_FOR_THREAD = 150_000;

/**
 * Looks for triangles of a surface that cross each other. A large one is searched in a second thread while the caller goes on
 * measuring. The answer is the same.
 */
export function searchCrossings(mesh: TriangleMesh, label: string): CrossingSearch {
  const isLarge = mesh.triangles.length / 3 >= LEAST_FOR_THREAD;
  const work = isLarge ? beside<SelfIntersections>('./crossings-worker.js', mesh) : undefined;
  if (work) return { findings: async () => crossingFindings(await work.answer(), label) };
  const found = crossingFindings(findSelfIntersections(mesh), label);
  return { findings: () => Promise.resolve(found) };
}
