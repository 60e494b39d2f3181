import { distance, dot, subtract, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Vessel } from '../../result/result.generated.js';

/** One piece of a surface of the whole lesion: the triangles of a vessel, or of the sac. */
export interface WholePiece {
  /** Name of the vessel; undefined: the sac. */
  vessel?: string;
  mesh: TriangleMesh;
}

/** A triangle further than this many local radii from every centreline belongs to no vessel. */
const FARTHEST_RADII = 1.45;

interface Tube {
  name: string;
  points: readonly Vec3[];
  radii: number[];
  /** The centreline ends at the sac: what lies beyond it is sac. */
  endsAtSac: boolean;
}

/**
 * Cuts one surface of the whole lesion into vessels and sac, for display only: each triangle goes to the vessel whose
 * centreline is nearest in local radii; beyond the necks it is sac. Needs the centrelines of the result; vessels
 * without one get no piece. Pieces come in the order of `vessels`, the sac last.
 */
export function splitWhole(
  mesh: TriangleMesh,
  vessels: readonly (readonly [string, Vessel])[],
): WholePiece[] {
  const tubes = vessels.flatMap(([name, vessel]) => tubeOf(name, vessel));
  if (tubes.length === 0) return [{ mesh }];
  const buckets: number[][] = [...tubes.map(() => []), []];
  const { positions, triangles } = mesh;
  for (let t = 0; t < triangles.length; t += 3) {
    const centre: Vec3 = [0, 0, 0];
    for (let i = t; i < t + 3; i++)
      for (let k = 0; k < 3; k++) centre[k] += positions[3 * triangles[i] + k] / 3;
    buckets[owner(tubes, centre)].push(triangles[t], triangles[t + 1], triangles[t + 2]);
  }
  return buckets
    .map((own, i) => ({ vessel: tubes[i]?.name, mesh: { positions, triangles: Uint32Array.from(own) } }))
    .filter((piece) => piece.mesh.triangles.length > 0);
}

function tubeOf(name: string, vessel: Vessel): Tube[] {
  const points = vessel.centreline_mm as readonly Vec3[] | undefined;
  if (!points || points.length < 2) return [];
  let at = 0;
  const radii = points.map((point, i) => {
    if (i > 0) at += distance(point, points[i - 1]);
    const nearest = vessel.profile.reduce<(typeof vessel.profile)[number] | undefined>(
      (best, sample) => (!best || Math.abs(sample.at_mm - at) < Math.abs(best.at_mm - at) ? sample : best),
      undefined,
    );
    return (nearest?.max_mm ?? vessel.calibre_mm.mean) / 2;
  });
  return [{ name, points, radii, endsAtSac: vessel.role !== 'branch' }];
}

/** Index of the tube that owns a point; the number of tubes: the sac. */
function owner(tubes: readonly Tube[], point: Vec3): number {
  let best = tubes.length;
  let least = FARTHEST_RADII;
  tubes.forEach((tube, index) => {
    let [nearest, square] = [0, Infinity];
    tube.points.forEach((p, i) => {
      const d = (p[0] - point[0]) ** 2 + (p[1] - point[1]) ** 2 + (p[2] - point[2]) ** 2;
      if (d < square) [nearest, square] = [i, d];
    });
    const radii = Math.sqrt(square) / Math.max(tube.radii[nearest], 1e-6);
    if (radii >= least) return;
    const last = tube.points.length - 1;
    const beyond =
      tube.endsAtSac &&
      nearest === last &&
      dot(subtract(point, tube.points[last]), subtract(tube.points[last], tube.points[last - 1])) > 0;
    if (!beyond) [best, least] = [index, radii];
  });
  return best;
}
