import type { Manifold } from 'manifold-3d/manifold';
import { dot } from '../foundation/vector.js';
import { type CutPlane, inPlane, isInside } from './cut-plane.js';
import type { PrintJob } from './print-job.js';

/** Offset just below the plane, where a cut-off piece has its face, mm. */
const BELOW_MM = 0.02;

/**
 * Both sides of a solid: at a plane, everything above and below it; at a neck, the vessel beyond the plane and the rest. Undefined if the
 * plane misses the solid.
 */
export function splitAt(job: PrintJob, solid: Manifold, plane: CutPlane): [Manifold, Manifold] | undefined {
  const { workshop } = job;
  const [above, below] = solid
    .splitByPlane(plane.normal, dot(plane.normal, plane.point))
    .map((half) => workshop.keep(half));
  if (above.isEmpty() || below.isEmpty()) return undefined;
  if (plane.vessel === undefined) return [above, below];
  const pieces = workshop.decompose(below);
  const own = pieces.findIndex((piece) => {
    const section = inPlane(job, piece, plane).slice(-BELOW_MM);
    const holds = section.toPolygons().some((outline) => isInside(outline, 0, 0));
    section.delete();
    return holds;
  });
  if (own < 0) return undefined;
  const [vessel] = pieces.splice(own, 1);
  return [workshop.union([above, ...pieces]), vessel];
}
