import type { Manifold } from 'manifold-3d/manifold';
import { cube } from '../foundation/power.js';
import { add, scale, subtract, type Vec3 } from '../foundation/vector.js';
import { Polyline } from '../geometry/polyline.js';
import { distanceGrid } from '../mesh/distance-grid.js';
import { boundingBox } from '../mesh/measures.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { WindingField } from '../mesh/winding-field.js';
import { meshOfSolid, type Workshop } from './workshop.js';

/** Edges of the outer wall's facets, mm: finer for a small lesion; samples stay below about two million. */
const FINEST_FACET_MM = 0.5;
const COARSEST_FACET_MM = 1;
const MOST_CELLS = 1_000_000;
/** Work steps per cell of the level surface. */
const LEVEL_STEPS = 1;
/** Edges shorter than this are collapsed if the wall stays within the same distance, mm. */
const SIMPLIFY_MM = 0.01;
/** The same for the lumen from which distances are measured, mm. */
const SIMPLIFY_LUMEN_MM = 0.004;

/**
 * Outer side of a wall of constant thickness around a lumen: every point at `wallMm` from the nearest lumen wall that is reachable from
 * outside. The middles of facets are on it, their corners outside it by about facet²/(8·radius). Pockets closed off by the wall are filled.
 */
export async function outerWall(workshop: Workshop, lumen: Manifold, wallMm: number): Promise<Manifold> {
  const { WindingField } = await import('../mesh/winding-field.js');
  const mesh = meshOfSolid(workshop.keep(lumen.simplify(SIMPLIFY_LUMEN_MM)));
  const field = new WindingField(mesh, workshop.work);
  const value = distanceGrid(mesh, wallMm, workshop.work);
  const box = boundingBox(mesh);
  const volume = box.size.reduce((product, s) => product * (s + 2 * wallMm), 1);
  const facetMm = Math.min(COARSEST_FACET_MM, Math.max(FINEST_FACET_MM, Math.cbrt(volume / MOST_CELLS)));
  const room = wallMm + 2 * facetMm;
  const bounds = {
    min: box.min.map((c) => c - room) as Vec3,
    max: box.max.map((c) => c + room) as Vec3,
  };
  workshop.work.spend(LEVEL_STEPS * (volume / cube(facetMm)));
  const rough = workshop.levelSet((p) => -value(p), bounds, facetMm);
  // Corners are moved away from the lumen to the exact distance; twice, since the nearest point changes too.
  const exact = workshop.warp(rough, (p) => {
    for (let pass = 0; pass < 2; pass++) {
      const near = field.closest([p[0], p[1], p[2]]);
      if (!near || near.distance < wallMm / 4) return;
      const f = wallMm / near.distance;
      for (let k = 0; k < 3; k++) p[k] = near.point[k] + (p[k] - near.point[k]) * f;
    }
  });
  return thickenedFacets(workshop, workshop.keep(exact.simplify(SIMPLIFY_MM)), field, wallMm);
}

/** Greatest depth of a facet's middle below the middles of its edges on a round wall with even facets. */
const MIDDLE_DEPTH = 4 / 3;

/** Moves the corners of facets that cut a bend, and so come too close to the lumen, outwards by the shortfall. */
function thickenedFacets(workshop: Workshop, shell: Manifold, field: WindingField, wallMm: number): Manifold {
  const mesh = meshOfSolid(shell);
  const wantedMm = wallMm + 2 * SIMPLIFY_LUMEN_MM;
  const missing = new Float64Array(mesh.positions.length / 3);
  const corner = (v: number): Vec3 => [0, 1, 2].map((k) => mesh.positions[3 * v + k]) as Vec3;
  for (let i = 0; i < mesh.triangles.length; i++) {
    const a = mesh.triangles[i];
    const b = mesh.triangles[i % 3 === 2 ? i - 2 : i + 1];
    // Each edge belongs to two triangles, once in each direction.
    if (a > b) continue;
    const lacks = MIDDLE_DEPTH * (wantedMm - field.distance(scale(add(corner(a), corner(b)), 0.5)));
    missing[a] = Math.max(missing[a], lacks);
    missing[b] = Math.max(missing[b], lacks);
  }
  missing.forEach((mm, v) => {
    if (mm <= 0) return;
    const at = corner(v);
    const near = field.closest(at);
    if (!near || near.distance < wallMm / 4) return;
    for (let k = 0; k < 3; k++) mesh.positions[3 * v + k] += ((at[k] - near.point[k]) / near.distance) * mm;
  });
  return workshop.solid(mesh);
}

/** An end of the lumen to be opened. */
export interface OpenEnd {
  name: string;
  centreline: readonly Vec3[];
  /** Position of the flat end, mm of the centreline from the far end, past the cap whatever its tilt. */
  cutAtMm: number;
  calibreMm: number;
}

/** The body that cuts a vessel's end off flat and so opens the lumen. */
export function endCutter(workshop: Workshop, end: OpenEnd, wallMm: number): Manifold {
  const line = new Polyline(end.centreline as Vec3[]);
  const at = line.pointAt(end.cutAtMm);
  const outwards = scale(line.directionAt(end.cutAtMm, Math.max(1, end.calibreMm / 2)), -1);
  const lengthMm = end.cutAtMm + 2 * wallMm + end.calibreMm / 2;
  return workshop.bar(at, add(at, scale(outwards, lengthMm)), end.calibreMm / 2 + 2 * wallMm + 0.5, 48);
}

/** A mesh moved to print coordinates. */
export function toPrint(mesh: TriangleMesh, origin: Vec3, factor: number): TriangleMesh {
  return {
    positions: mesh.positions.map((x, i) => Math.fround((x - origin[i % 3]) * factor)),
    triangles: mesh.triangles,
  };
}

/** A point in print coordinates. */
export const pointToPrint = (p: Vec3, origin: Vec3, factor: number): Vec3 =>
  scale(subtract(p, origin), factor);
