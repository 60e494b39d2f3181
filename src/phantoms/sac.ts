import { add, dot, length, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { MeshBuilder } from './mesh-builder.js';
import { gaussLegendre } from './quadrature.js';
import { inverseRotation, NO_TURN, type Quaternion, rotateVector } from './rigid.js';

/** A rounded bump: adds `height · exp(sharpness · (cos(angle to direction) - 1))` to the unit radius. */
interface Lobe {
  direction: Vec3;
  height: number;
  sharpness: number;
}

/**
 * An aneurysmal sac: the star-shaped body `|q| < 1 + sum of lobes(q/|q|)` in unit space, stretched by three semi-axes (mm),
 * turned and shifted. Without lobes it is an ellipsoid.
 */
export interface SacShape {
  centreMm: Vec3;
  semiAxesMm: [number, number, number];
  rotation?: Quaternion;
  lobes?: Lobe[];
}

function unitRadius(shape: SacShape, u: Vec3): number {
  let r = 1;
  for (const lobe of shape.lobes ?? []) {
    r += lobe.height * Math.exp(lobe.sharpness * (dot(u, normalize(lobe.direction)) - 1));
  }
  return r;
}

/** Surface point in the direction `u` (unit vector of the unit space), mm. */
export function sacPoint(shape: SacShape, u: Vec3): Vec3 {
  const r = unitRadius(shape, u);
  const [a, b, c] = shape.semiAxesMm;
  return add(
    shape.centreMm,
    rotateVector(shape.rotation ?? NO_TURN, [a * r * u[0], b * r * u[1], c * r * u[2]]),
  );
}

/**
 * Signed field of the sac, negative inside, zero exactly on its surface, mm-like: the relative excess of the unit radius times the mean
 * semi-axis. Not a distance; only its zero set matters.
 */
export function sacField(shape: SacShape): (p: Vec3) => number {
  const back = inverseRotation(shape.rotation ?? NO_TURN);
  const [a, b, c] = shape.semiAxesMm;
  const lobes = (shape.lobes ?? []).map((lobe) => ({ ...lobe, direction: normalize(lobe.direction) }));
  const size = Math.cbrt(a * b * c);
  return (p) => {
    const local = rotateVector(back, subtract(p, shape.centreMm));
    const q: Vec3 = [local[0] / a, local[1] / b, local[2] / c];
    const far = length(q);
    if (far < 1e-12) return -size;
    let r = 1;
    for (const lobe of lobes)
      r += lobe.height * Math.exp(lobe.sharpness * (dot(q, lobe.direction) / far - 1));
    return (far - r) * size;
  };
}

/** Largest distance of the surface from the centre, mm; an upper bound. */
export function sacReachMm(shape: SacShape): number {
  const bumps = (shape.lobes ?? []).reduce((sum, lobe) => sum + Math.max(0, lobe.height), 0);
  return Math.max(...shape.semiAxesMm) * (1 + bumps);
}

/**
 * Exact volume, mm3: a·b·c times the integral of r^3/3 over the sphere of directions.
 * Quadrature: `order` Gauss-Legendre nodes in the height, 2·order equal steps around; for an ellipsoid 4/3 pi a b c.
 */
export function sacVolumeMm3(shape: SacShape, order = 96): number {
  const { nodes, weights } = gaussLegendre(order);
  const steps = 2 * order;
  let sum = 0;
  for (let i = 0; i < order; i++) {
    const z = nodes[i];
    const flat = Math.sqrt(1 - z * z);
    let ring = 0;
    for (let j = 0; j < steps; j++) {
      const angle = (2 * Math.PI * (j + 0.5)) / steps;
      const r = unitRadius(shape, [flat * Math.cos(angle), flat * Math.sin(angle), z]);
      ring += r * r * r;
    }
    sum += weights[i] * ring;
  }
  const [a, b, c] = shape.semiAxesMm;
  return (a * b * c * sum * ((2 * Math.PI) / steps)) / 3;
}

const GOLDEN = (1 + Math.sqrt(5)) / 2;
const ICOSAHEDRON_POINTS: Vec3[] = [
  [-1, GOLDEN, 0],
  [1, GOLDEN, 0],
  [-1, -GOLDEN, 0],
  [1, -GOLDEN, 0],
  [0, -1, GOLDEN],
  [0, 1, GOLDEN],
  [0, -1, -GOLDEN],
  [0, 1, -GOLDEN],
  [GOLDEN, 0, -1],
  [GOLDEN, 0, 1],
  [-GOLDEN, 0, -1],
  [-GOLDEN, 0, 1],
];
const ICOSAHEDRON_FACES = [
  [0, 11, 5],
  [0, 5, 1],
  [0, 1, 7],
  [0, 7, 10],
  [0, 10, 11],
  [1, 5, 9],
  [5, 11, 4],
  [11, 10, 2],
  [10, 7, 6],
  [7, 1, 8],
  [3, 9, 4],
  [3, 4, 2],
  [3, 2, 6],
  [3, 6, 8],
  [3, 8, 9],
  [4, 9, 5],
  [2, 4, 11],
  [6, 2, 10],
  [8, 6, 7],
  [9, 8, 1],
];

/** Closed mesh of the sac with 20·frequency^2 triangles: a subdivided icosahedron whose vertices are all on the smooth surface. */
export function sacMesh(shape: SacShape, frequency: number): TriangleMesh {
  const builder = new MeshBuilder();
  const known = new Map<string, number>();
  const vertex = (corners: readonly number[], weights: readonly number[]): number => {
    const used = corners
      .map((corner, i) => [corner, weights[i]] as const)
      .filter(([, weight]) => weight > 0)
      .sort((p, q) => p[0] - q[0]);
    const key = used.map((pair) => pair.join(':')).join(' ');
    let index = known.get(key);
    if (index === undefined) {
      let sum: Vec3 = [0, 0, 0];
      for (const [corner, weight] of used) sum = add(sum, scale(ICOSAHEDRON_POINTS[corner], weight));
      index = builder.vertex(sacPoint(shape, normalize(sum)));
      known.set(key, index);
    }
    return index;
  };
  for (const face of ICOSAHEDRON_FACES) {
    const at = (i: number, j: number): number => vertex(face, [frequency - i - j, i, j]);
    for (let i = 0; i < frequency; i++) {
      for (let j = 0; i + j < frequency; j++) {
        builder.triangle(at(i, j), at(i + 1, j), at(i, j + 1));
        if (i + j + 1 < frequency) builder.triangle(at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
      }
    }
  }
  return builder.mesh();
}
