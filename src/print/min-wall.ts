import { distance, dot, scale, type Vec3 } from '../foundation/vector.js';
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
/** Number of samples after which those are left out that can be neither the thinnest wall nor below the limit, and rays shortened. */
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
  const laid = new Float64Array(3);
  for (let t = 0; t < count; t += stride) {
    const areaMm2 = (layNormal(mesh, t, laid) / 2) * stride;
    if (areaMm2 === 0) continue;
    const normal = field.normal(t);
    const at = field.centroid(t);
    const inwards = scale(normal, -1);
    const hit = field.first(at, inwards, 1e-4, reachMm);
    if (!hit || hit.triangle === t || dot(field.normal(hit.triangle), inwards) < FACING) continue;
    samples.push({ at, thicknessMm: hit.distance, areaMm2 });
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

/** Sorts the samples by thickness and returns the one that makes up the area of more than an edge. */
function sortedToMinimum(samples: Sample[]): Sample | undefined {
  samples.sort((a, b) => a.thicknessMm - b.thicknessMm);
  let seen = 0;
  return samples.find((s) => {
    seen += s.areaMm2;
    return seen >= EDGE_AREA_MM2;
  });
}
