import { distance, type Vec3 } from '../foundation/vector.js';
import { RAY, RAY_DISTANCE, RAY_TRIANGLE } from '../mesh/box-queries.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { layNormal } from '../mesh/triangle-normal.js';
import type { WindingField } from '../mesh/winding-field.js';

/** A stretch of wall thinner than the process allows. */
export interface ThinRegion {
  /** Its thinnest place, print coordinates, mm. */
  at: Vec3;
  thicknessMm: number;
  areaMm2: number;
}

export interface WallMeasure {
  /** Thinnest wall, except sharp edges; absent if no ray met an opposite wall. */
  minWallMm?: number;
  /** The thinnest of them, at most ten. */
  thin: ThinRegion[];
  /** How many there are. */
  thinCount: number;
}

interface Sample {
  at: Vec3;
  thicknessMm: number;
  areaMm2: number;
}

const MOST_RAYS = 20_000;
const RAYS_AT_ONCE = 256;
/** After this many samples, those that can be neither the thinnest wall nor below the limit are left out, and rays are shortened. */
const MOST_UNSORTED = 200;
/** Thin samples with less total area than this are edges of facets, not walls, mm². */
const EDGE_AREA_MM2 = 0.5;
/** A facing wall has its normal opposite within 60 degrees. */
const FACING = 0.5;
/** Allowance below the limit for facets of a round wall, mm. */
const FACET_MM = 0.05;
const NEAR_MM = 5;
const MOST_REGIONS = 10;

/**
 * Wall thickness by rays: from the middle of each triangle (at most 20,000, evenly sampled) straight inwards to the next facing wall.
 * Regions thinner than `limitMm` are grouped within 5 mm and listed, the thinnest first.
 */
export function measureWall(
  mesh: TriangleMesh,
  field: WindingField,
  limitMm: number | undefined,
): WallMeasure {
  const count = mesh.triangles.length / 3;
  const stride = Math.max(1, Math.ceil(count / MOST_RAYS));
  const samples: Sample[] = [];
  let reachMm = Number.POSITIVE_INFINITY;
  let mostSamples = MOST_UNSORTED;
  const rays = new Float64Array(RAY * RAYS_AT_ONCE);
  const startOf = new Uint32Array(RAYS_AT_ONCE);
  for (let t = 0; t < count; ) {
    // no more samples than this are possible before the rays are shortened
    const most = Math.min(RAYS_AT_ONCE, mostSamples - samples.length);
    let asked = 0;
    for (; asked < most && t < count; t += stride)
      if (layRayInwards(mesh, t, rays, RAY * asked)) startOf[asked++] = t;
    field.firsts(rays, asked, 1e-4, reachMm);
    for (let i = 0; i < asked; i++) {
      const triangle = startOf[i];
      if (!endsAtFacing(mesh, triangle, rays, RAY * i)) continue;
      const areaMm2 = (layNormal(mesh, triangle, laid) / 2) * stride;
      samples.push({
        at: [rays[RAY * i], rays[RAY * i + 1], rays[RAY * i + 2]],
        thicknessMm: rays[RAY * i + RAY_DISTANCE],
        areaMm2,
      });
    }
    if (samples.length < mostSamples) continue;
    reachMm = Math.max(limitMm ?? 0, sortedToMinimum(samples)?.thicknessMm ?? Number.POSITIVE_INFINITY);
    while (samples.length > 0 && samples[samples.length - 1].thicknessMm > reachMm) samples.pop();
    mostSamples = 2 * samples.length + MOST_UNSORTED;
  }
  const minimum = sortedToMinimum(samples);
  const thin: ThinRegion[] = [];
  for (const s of limitMm === undefined ? [] : samples) {
    if (s.thicknessMm >= limitMm! - FACET_MM) break;
    const region = thin.find((r) => distance(r.at, s.at) < NEAR_MM);
    if (region) region.areaMm2 += s.areaMm2;
    else thin.push({ ...s });
  }
  const regions = thin.filter((r) => r.areaMm2 >= EDGE_AREA_MM2);
  return {
    ...(minimum && { minWallMm: minimum.thicknessMm }),
    thin: regions.slice(0, MOST_REGIONS),
    thinCount: regions.length,
  };
}

const laid = new Float64Array(3);

/** Sets up a ray from the middle of a triangle straight inwards; false if the triangle has no area. */
function layRayInwards(mesh: TriangleMesh, t: number, rays: Float64Array, at: number): boolean {
  const { positions: p, triangles } = mesh;
  const twice = layNormal(mesh, t, laid);
  if (twice / 2 === 0) return false;
  const toUnit = 1 / twice;
  const a = 3 * triangles[3 * t];
  const b = 3 * triangles[3 * t + 1];
  const c = 3 * triangles[3 * t + 2];
  for (let k = 0; k < 3; k++) {
    rays[at + k] = (p[a + k] + p[b + k] + p[c + k]) / 3;
    rays[at + 3 + k] = -(laid[k] * toUnit);
  }
  return true;
}

/** Whether a ray from a triangle ended at another triangle that faces the other way. */
function endsAtFacing(mesh: TriangleMesh, from: number, rays: Float64Array, at: number): boolean {
  const triangle = rays[at + RAY_TRIANGLE];
  if (triangle < 0 || triangle === from) return false;
  const twice = layNormal(mesh, triangle, laid);
  const toUnit = twice > 0 ? 1 / twice : 0;
  const along =
    laid[0] * toUnit * rays[at + 3] + laid[1] * toUnit * rays[at + 4] + laid[2] * toUnit * rays[at + 5];
  return !(along < FACING);
}

/** Sorts the samples by thickness and returns the first one at which the total area is more than an edge's. */
function sortedToMinimum(samples: Sample[]): Sample | undefined {
  samples.sort((a, b) => a.thicknessMm - b.thicknessMm);
  let seen = 0;
  return samples.find((s) => {
    seen += s.areaMm2;
    return seen >= EDGE_AREA_MM2;
  });
}
