import { add, distance, dot, length, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Rim } from './field.js';
import { cutAtRim } from './flat-end.js';
import { CELL_EDGES, CORNER_OFFSETS, coordinatesOf, keyOf, surfaceBand } from './lattice.js';

/** Options for converting a field to a mesh. */
export interface PolygoniseOptions {
  /** Edge of a lattice cell, mm; approximately the edge of a triangle. */
  cellMm: number;
  /** Points on or near every piece of the surface. */
  seeds: readonly Vec3[];
  /** Flat ends. The vessels of the field extend past them by `CELLS_PAST_RIM` cells; they are cut here. */
  rims: readonly Rim[];
  /** Leave the flat ends open instead of capped. */
  openEnds: boolean;
  /** Rounds of moving vertices along the surface towards the centroid of their neighbours. */
  relaxations: number;
}

const SLOPE_STEP_MM = 1e-4;

/** Gradient of a field by central differences. */
function gradientOf(field: (p: Vec3) => number, [x, y, z]: Vec3): Vec3 {
  const h = SLOPE_STEP_MM;
  return [
    (field([x + h, y, z]) - field([x - h, y, z])) / (2 * h),
    (field([x, y + h, z]) - field([x, y - h, z])) / (2 * h),
    (field([x, y, z + h]) - field([x, y, z - h])) / (2 * h),
  ];
}

/** Moves a point along the gradient onto the zero set by Newton steps of at most `reachMm`; stops below 1e-7 mm. */
function projectOnto(field: (p: Vec3) => number, start: Vec3, reachMm: number): Vec3 {
  let p = start;
  for (let round = 0; round < 20; round++) {
    const value = field(p);
    if (Math.abs(value) < 1e-7) break;
    const slope = gradientOf(field, p);
    const square = dot(slope, slope);
    if (square < 1e-12) break;
    const step = scale(slope, -value / square);
    const far = length(step);
    p = add(p, far > reachMm ? scale(step, reachMm / far) : step);
  }
  return p;
}

/**
 * Closed triangle mesh of a field's zero surface: one vertex for each crossed lattice cell, one quad for each crossed lattice edge (dual of
 * the marching-cubes surface), the vertices then moved onto the zero set. Always a manifold: see `surfaceBand`. Triangles are
 * counter-clockwise as seen from outside. A flat end is a fan around its centre, or left out with `openEnds`.
 */
export function polygonise(field: (p: Vec3) => number, options: PolygoniseOptions): TriangleMesh {
  const { cellMm, rims } = options;
  const band = surfaceBand(field, options.seeds, cellMm);
  const cells = [...band.cells].sort((p, q) => p - q);
  const index = new Map(cells.map((cell, i) => [cell, i]));
  const valueAt = (key: number): number => band.values.get(key) as number;

  const points = cells.map((cell): Vec3 => {
    let sum: Vec3 = [0, 0, 0];
    let count = 0;
    for (const [c, d] of CELL_EDGES) {
      const [p, q] = [cell + CORNER_OFFSETS[c], cell + CORNER_OFFSETS[d]];
      const [vp, vq] = [valueAt(p), valueAt(q)];
      if (vp < 0 === vq < 0) continue;
      const share = vp / (vp - vq);
      sum = add(sum, add(scale(band.pointOf(p), 1 - share), scale(band.pointOf(q), share)));
      count++;
    }
    return projectOnto(field, scale(sum, 1 / count), cellMm / 2);
  });

  const quads: number[][] = [];
  for (const cell of cells) {
    const at = coordinatesOf(cell);
    for (let axis = 0; axis < 3; axis++) {
      const inside = valueAt(cell) < 0;
      if (inside === valueAt(cell + CORNER_OFFSETS[1 << axis]) < 0) continue;
      const [b, c] = [(axis + 1) % 3, (axis + 2) % 3];
      const around = [
        [1, 1],
        [0, 1],
        [0, 0],
        [1, 0],
      ].map(([db, dc]) => {
        const corner: Vec3 = [...at];
        corner[b] -= db;
        corner[c] -= dc;
        return index.get(keyOf(...corner)) as number;
      });
      quads.push(inside ? around : around.reverse());
    }
  }

  for (let round = 0; round < options.relaxations; round++) relax(field, points, quads, cellMm);
  const triangles = quads.flatMap(([a, b, c, d]) =>
    // the shorter diagonal
    distance(points[a], points[c]) <= distance(points[b], points[d])
      ? [a, b, c, a, c, d]
      : [a, b, d, b, c, d],
  );
  const making = { points, triangles };
  for (const rim of rims) cutAtRim(making, rim, cellMm, options.openEnds);
  return packed(making.points, making.triangles);
}

/** One round of even spacing: half way to the centroid of the neighbours within the tangent plane, then back onto the surface. */
function relax(field: (p: Vec3) => number, points: Vec3[], quads: readonly number[][], cellMm: number): void {
  const sums = points.map((): Vec3 => [0, 0, 0]);
  const counts = new Array<number>(points.length).fill(0);
  for (const quad of quads) {
    for (let i = 0; i < 4; i++) {
      const [from, to] = [quad[i], quad[(i + 1) % 4]];
      sums[from] = add(sums[from], points[to]);
      counts[from]++;
    }
  }
  const moved = points.map((p, vertex): Vec3 => {
    const normal = normalize(gradientOf(field, p));
    const pull = subtract(scale(sums[vertex], 1 / counts[vertex]), p);
    const along = subtract(pull, scale(normal, dot(pull, normal)));
    return projectOnto(field, add(p, scale(along, 0.5)), cellMm / 2);
  });
  moved.forEach((p, vertex) => {
    points[vertex] = p;
  });
}

/** The mesh of the vertices that the triangles use, in the order of their first use. */
function packed(points: readonly Vec3[], triangles: readonly number[]): TriangleMesh {
  const renumbered = new Map<number, number>();
  const used: Vec3[] = [];
  const corners = triangles.map((old) => {
    let vertex = renumbered.get(old);
    if (vertex === undefined) {
      vertex = used.length;
      used.push(points[old]);
      renumbered.set(old, vertex);
    }
    return vertex;
  });
  return { positions: Float64Array.from(used.flat()), triangles: Uint32Array.from(corners) };
}
