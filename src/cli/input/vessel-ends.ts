import { distance, subtract, type Vec3 } from '../../foundation/vector.js';
import { Surface } from '../../geometry/surface.js';
import { endsAbout } from '../../geometry/whole/ends-about.js';
import { type FarEnd, farEnds, letterOf } from '../../geometry/whole/ends-of.js';
import type { BoundaryLoop } from '../../mesh/boundary-loops.js';
import { CAP_PLANARITY_FRACTION, capPlanarLoops } from '../../mesh/cap.js';
import { boundingBox } from '../../mesh/measures.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { refuseOutside } from './sac-flag.js';

/** Proposed ends of the vessels of a fused surface, in its coordinates, mm. */
export interface VesselEnds {
  /** Empty if the surface is not a branched blood pool. */
  ends: Omit<FarEnd, 'vertex'>[];
  /** Centre of the largest ball inside, which in a branched blood pool is usually in the sac. */
  widest: Vec3;
  widestDiameterMm: number;
  /** Upper bound on the widest ball; present if the search was not completed. */
  widestAtMostMm?: number;
}

/**
 * Proposes the vessel ends of a surface (mm, outward) with these open loops, the widest first; an open end has the letter of its loop's
 * number. `about`: only the vessels around a place (file coordinates, mm), cut where they leave its reach. Undefined if no ball fits
 * inside. Throws InputFailure (2) for a place outside the lumen.
 */
export function vesselEnds(
  mesh: TriangleMesh,
  loops: readonly BoundaryLoop[],
  about?: { at: Vec3; reachMm: number },
): VesselEnds | undefined {
  const { centre } = boundingBox(mesh);
  const capped = capPlanarLoops(mesh, loops, { planarityFraction: CAP_PLANARITY_FRACTION });
  const caps = capped.caps.flatMap(({ from, to }) => Array.from({ length: to - from }, (_, i) => from + i));
  const surface = new Surface(capped.mesh, centre, caps);
  const { ends, widest, isBranched } = farEnds(surface);
  if (!widest) return undefined;
  let next = loops.length;
  const free = new Set(loops.keys());
  const local = about && { ...about, at: subtract(about.at, centre) };
  const near = local && (endsAbout(surface, local, ends) ?? refuseOutside());
  const bySize = [...ends].sort((a, b) => b.calibreMm - a.calibreMm);
  const named = (near ?? (isBranched ? bySize : [])).map((end) => {
    const at = surface.toFile(end.at);
    const loop = end.kind === 'open' ? nearestLoop(at, loops, free, end.calibreMm) : undefined;
    if (loop !== undefined) free.delete(loop);
    return { ...end, at, letter: letterOf(loop ?? next++) };
  });
  return {
    ends: named,
    widest: surface.toFile(widest.centre),
    widestDiameterMm: 2 * widest.radiusMm,
    ...(widest.atMostMm === undefined ? {} : { widestAtMostMm: 2 * widest.atMostMm }),
  };
}

function nearestLoop(
  at: Vec3,
  loops: readonly BoundaryLoop[],
  free: ReadonlySet<number>,
  withinMm: number,
): number | undefined {
  let best: number | undefined;
  let least = withinMm;
  for (const i of free) {
    const d = distance(loops[i].centroid, at);
    if (d >= least) continue;
    least = d;
    best = i;
  }
  return best;
}
