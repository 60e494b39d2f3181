import { addTo } from '../../foundation/add-to.js';
import { distance, dot, subtract, type Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Vessel } from '../../result/result.generated.js';

/** One piece of a surface of the whole lesion: the triangles of a vessel, of the sac, or of the part that was not measured. */
export interface WholePiece {
  /** Name of the vessel; undefined if not a measured vessel. */
  vessel?: string;
  isSac: boolean;
  mesh: TriangleMesh;
}

/** A leftover piece that extends no farther than this many local radii belongs to the vessel that it is on. */
const CRUMB_RADII = 2.5;

/** A triangle farther than this many local radii from every centreline belongs to no vessel. */
const FARTHEST_RADII = 1.45;

interface Tube {
  name: string;
  points: readonly Vec3[];
  radii: number[];
  /** The centreline ends at the sac; anything beyond its end is sac. */
  endsAtSac: boolean;
}

/**
 * Cuts one surface of the whole lesion into vessels and sac, for display only: each triangle goes to the vessel whose
 * centreline is nearest in local radii; beyond the necks it is sac. Needs the centrelines of the result; vessels
 * without one get no piece. A leftover piece that is not connected to the place nearest `sacCentre` is not sac, nor is any leftover piece
 * if the sac was not measured: these are vessels that nobody named or that could not be measured. Pieces come in the order of
 * `vessels`, then the sac, then the rest.
 */
export function splitWhole(
  mesh: TriangleMesh,
  vessels: readonly (readonly [string, Vessel])[],
  sacCentre?: readonly number[],
): WholePiece[] {
  const tubes = vessels.flatMap(([name, vessel]) => tubeOf(name, vessel));
  if (tubes.length === 0) return [{ isSac: false, mesh }];
  const buckets: number[][] = tubes.map(() => []);
  const { positions, triangles } = mesh;
  const rest: number[] = [];
  const places: Place[] = [];
  for (let t = 0; 3 * t < triangles.length; t++) {
    const place = placeOn(tubes, middleOf(mesh, t));
    places.push(place);
    if (place.isPast || place.radii >= FARTHEST_RADII) rest.push(t);
    else buckets[place.tube].push(t);
  }
  const sac: number[] = [];
  const unnamed: number[] = [];
  const groups = connectedGroups(mesh, rest);
  const atSac = sacCentre && groupNearest(mesh, groups, sacCentre);
  for (const group of groups) {
    if (group === atSac) sac.push(...group);
    else if (group.every((t) => !places[t].isPast && places[t].radii < CRUMB_RADII))
      for (const t of group) buckets[places[t].tube].push(t);
    else unnamed.push(...group);
  }
  const meshOf = (own: number[]): TriangleMesh => ({
    positions,
    triangles: Uint32Array.from(
      own.sort((a, b) => a - b).flatMap((t) => [...triangles.subarray(3 * t, 3 * t + 3)]),
    ),
  });
  return [
    ...buckets.map((own, i) => ({ vessel: tubes[i].name, isSac: false, mesh: meshOf(own) })),
    { isSac: true, mesh: meshOf(sac) },
    { isSac: false, mesh: meshOf(unnamed) },
  ].filter((piece) => piece.mesh.triangles.length > 0);
}

function middleOf({ positions, triangles }: TriangleMesh, t: number): Vec3 {
  const centre: Vec3 = [0, 0, 0];
  for (let i = 3 * t; i < 3 * t + 3; i++)
    for (let k = 0; k < 3; k++) centre[k] += positions[3 * triangles[i] + k] / 3;
  return centre;
}

/** Groups of triangles connected by shared vertices. */
function connectedGroups({ triangles }: TriangleMesh, chosen: readonly number[]): number[][] {
  const parent = new Map<number, number>();
  const rootOf = (v: number): number => {
    let root = v;
    for (let next = parent.get(root); next !== undefined && next !== root; next = parent.get(root))
      root = next;
    parent.set(v, root);
    return root;
  };
  for (const t of chosen) {
    const root = rootOf(triangles[3 * t]);
    for (let k = 1; k < 3; k++) parent.set(rootOf(triangles[3 * t + k]), root);
  }
  const groups = new Map<number, number[]>();
  for (const t of chosen) addTo(groups, rootOf(triangles[3 * t]), t);
  return [...groups.values()];
}

function groupNearest(
  mesh: TriangleMesh,
  groups: readonly number[][],
  [x, y, z]: readonly number[],
): number[] | undefined {
  let best: number[] | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const group of groups)
    for (const t of group) {
      const d = distance(middleOf(mesh, t), [x, y, z]);
      if (d < least) [best, least] = [group, d];
    }
  return best;
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

interface Place {
  tube: number;
  /** Distance from the tube's centreline, local radii. */
  radii: number;
  /** Whether the point is past the tube's sac end. */
  isPast: boolean;
}

/** The nearest tube whose sac end the point is not past, if the point is on it; otherwise the nearest of all. */
function placeOn(tubes: readonly Tube[], point: Vec3): Place {
  const places = tubes.map(({ points, radii, endsAtSac }, tube): Place => {
    let [nearest, square] = [0, Infinity];
    points.forEach((p, i) => {
      const d = (p[0] - point[0]) ** 2 + (p[1] - point[1]) ** 2 + (p[2] - point[2]) ** 2;
      if (d < square) [nearest, square] = [i, d];
    });
    const last = points.length - 1;
    const isPast =
      endsAtSac &&
      nearest === last &&
      dot(subtract(point, points[last]), subtract(points[last], points[last - 1])) > 0;
    return { tube, radii: Math.sqrt(square) / Math.max(radii[nearest], 1e-6), isPast };
  });
  const nearestOf = (some: readonly Place[]): Place | undefined =>
    some.reduce<Place | undefined>((best, one) => (best && best.radii <= one.radii ? best : one), undefined);
  const on = nearestOf(places.filter(({ radii, isPast }) => !isPast && radii < FARTHEST_RADII));
  return on ?? nearestOf(places)!;
}
