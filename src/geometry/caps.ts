import { add, dot, length, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { Surface } from './surface.js';

/** Numerical settings for distinguishing an end's cap from the vessel wall. */
const CAPS = {
  /** Triangles within this angle of the seed's normal are coplanar with it. */
  flatCosine: Math.cos((15 * Math.PI) / 180),
  /** A flat cap has at least this share of the area of the vessel's section, */
  leastArea: 0.5,
  /** extends no farther than this many calibres, unlike long wall facets, */
  farthestReach: 2.5,
  /** is about as broad as it is long (area over squared reach; a disc has pi/4) */
  leastRoundness: 0.6,
  /** and faces away from the vessel's inside by at least this cosine, unlike its walls. */
  facingCosine: 0.3,
  /** Triangles of a rounded tip have normals within this cosine of the outward end direction */
  roundCosine: 0.3,
  /** and are within this many calibres of its centre. */
  roundReach: 0.75,
} as const;

/** Marks flat caps among the triangles for which `isNearEnd` holds; `inside` is a point about one calibre within that end. */
export function markFlatCaps(
  surface: Surface,
  isNearEnd: (triangle: number) => boolean,
  inside: Vec3,
  calibreMm: number,
): void {
  const section = (Math.PI / 4) * calibreMm * calibreMm;
  const seen = new Uint8Array(surface.triangleCount);
  const patchOf = new Int32Array(surface.triangleCount).fill(-1);
  for (let seed = 0; seed < surface.triangleCount; seed++) {
    if (seen[seed] || surface.isCap[seed] || !isNearEnd(seed)) continue;
    const normal = surface.normal(seed);
    const patch = grow(
      surface,
      seed,
      (t) => !seen[t] && surface.facing(t, normal) >= CAPS.flatCosine,
      patchOf,
    );
    for (const t of patch) seen[t] = 1;
    const { areaMm2, reachMm, middle } = patchSize(surface, patch);
    const isFlatEnd =
      areaMm2 >= CAPS.leastArea * section &&
      reachMm <= CAPS.farthestReach * calibreMm &&
      areaMm2 >= CAPS.leastRoundness * reachMm * reachMm &&
      dot(normal, normalize(subtract(middle, inside))) >= CAPS.facingCosine;
    if (isFlatEnd) for (const t of patch) surface.isCap[t] = 1;
  }
}

/**
 * Marks a rounded tip: the triangles connected to `seed` that face along the vessel's end direction and are around the tip's `centre`,
 * half a calibre inside its end. `outward` is a unit vector.
 */
export function markRoundTip(
  surface: Surface,
  seed: number,
  outward: Vec3,
  centre: Vec3,
  calibreMm: number,
): void {
  const belongs = (t: number): boolean =>
    surface.facing(t, outward) > CAPS.roundCosine &&
    surface.startsNear(t, centre, CAPS.roundReach * calibreMm);
  if (belongs(seed)) for (const t of grow(surface, seed, belongs)) surface.isCap[t] = 1;
}

/**
 * The triangles connected to `seed` through triangles for which `belongs` holds. `patchOf` holds, per triangle, the seed of the patch
 * that last included it.
 */
function grow(
  surface: Surface,
  seed: number,
  belongs: (triangle: number) => boolean,
  patchOf = new Int32Array(surface.triangleCount).fill(-1),
): number[] {
  const patch = [seed];
  patchOf[seed] = seed;
  for (let i = 0; i < patch.length; i++) {
    for (let k = 0; k < 3; k++) {
      const other = surface.twin[3 * patch[i] + k];
      if (other < 0) continue;
      const t = (other / 3) | 0;
      if (patchOf[t] === seed || !belongs(t)) continue;
      patchOf[t] = seed;
      patch.push(t);
    }
  }
  return patch;
}

function patchSize(
  surface: Surface,
  patch: readonly number[],
): { areaMm2: number; reachMm: number; middle: Vec3 } {
  const { positions, triangles } = surface;
  let areaMm2 = 0;
  const low: Vec3 = [Infinity, Infinity, Infinity];
  const high: Vec3 = [-Infinity, -Infinity, -Infinity];
  for (const t of patch) {
    areaMm2 += surface.areaMm2(t);
    for (let corner = 3 * t; corner < 3 * t + 3; corner++) {
      const p = 3 * triangles[corner];
      for (let k = 0; k < 3; k++) {
        const x = positions[p + k];
        if (x < low[k]) low[k] = x;
        if (x > high[k]) high[k] = x;
      }
    }
  }
  return {
    areaMm2,
    reachMm: length(subtract(high, low)) / Math.SQRT2,
    middle: scale(add(low, high), 0.5),
  };
}
