import { dot, normalize, type Vec3 } from '../foundation/vector.js';
import type { WorkBudget } from '../foundation/work-budget.js';
import type { BoxTreeHit } from './box-queries.js';
import { type BoxTree, boxTree } from './box-tree.js';
import type { TriangleMesh } from './mesh.js';
import { meshKernel } from './mesh-kernel.js';
import { layNormal } from './triangle-normal.js';

/** Directions with no simple ratios, so that rays do not run along faces and edges of gridded models. */
const DIRECTIONS: readonly Vec3[] = [
  normalize([0.8712, 0.3329, 0.3614]),
  normalize([-0.2877, 0.9021, -0.3214]),
  normalize([0.1931, -0.4107, 0.8911]),
];

/** Work steps per query, plus those for each triangle whose box contains a place on average. */
const QUESTION_STEPS = 6;
/** Work steps per triangle for building the tree. */
const TREE_STEPS = 1;
const CROWDED_STEPS = 0.3;

/** A closed surface that may cross itself, for queries of winding number and distance. */
export class WindingField {
  private readonly mesh: TriangleMesh;
  private readonly tree: BoxTree;
  private readonly work: WorkBudget | undefined;
  /** Work steps of one query. */
  readonly questionSteps: number;
  private readonly laid = new Float64Array(3);

  /** `work`: counts the queries. */
  constructor(mesh: TriangleMesh, work?: WorkBudget) {
    this.mesh = mesh;
    this.work = work;
    this.questionSteps = work ? QUESTION_STEPS + CROWDED_STEPS * crowding(mesh) : 0;
    work?.spend(TREE_STEPS * (mesh.triangles.length / 3));
    this.tree = boxTree(mesh);
  }

  vertex(v: number): Vec3 {
    const { positions } = this.mesh;
    return [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  }

  normal(t: number): Vec3 {
    const { laid } = this;
    layNormal(this.mesh, t, laid);
    return normalize([laid[0], laid[1], laid[2]]);
  }

  centroid(t: number): Vec3 {
    const { positions: p, triangles } = this.mesh;
    const a = 3 * triangles[3 * t];
    const b = 3 * triangles[3 * t + 1];
    const c = 3 * triangles[3 * t + 2];
    return [
      (p[a] + p[b] + p[c]) / 3,
      (p[a + 1] + p[b + 1] + p[c + 1]) / 3,
      (p[a + 2] + p[b + 2] + p[c + 2]) / 3,
    ];
  }

  /** Exits minus entries along a ray: 0 outside, 1 inside, more where the surface overlaps itself. Median of three rays. */
  winding(point: Vec3): number {
    this.work?.spend(3 * this.questionSteps);
    const votes = DIRECTIONS.map((direction) => {
      let sum = 0;
      this.tree.each(point, direction, (t) => {
        sum += Math.sign(dot(this.normal(t), direction));
      });
      return sum;
    });
    return votes.sort((a, b) => a - b)[1];
  }

  /** First triangle along a ray past `fromMm` and not beyond `toMm`, with its distance. */
  first(point: Vec3, direction: Vec3, fromMm = 0, toMm = Number.POSITIVE_INFINITY): BoxTreeHit | undefined {
    this.work?.spend(this.questionSteps);
    return this.tree.first(point, direction, fromMm, toMm);
  }

  /** The same for the first `count` of many rays (`RAY`); writes where they end. */
  firsts(rays: Float64Array, count: number, fromMm: number, toMm: number): void {
    for (let i = 0; i < count; i++) this.work?.spend(this.questionSteps);
    this.tree.firsts(rays, count, fromMm, toMm);
  }

  /**
   * Closest point of the surface and its distance, mm. If there is none within `maxMm`: undefined, or some point farther away than that.
   */
  closest(point: Vec3, maxMm = Number.POSITIVE_INFINITY): BoxTreeHit | undefined {
    this.work?.spend(this.questionSteps);
    return this.tree.closest(point, maxMm);
  }

  distance(point: Vec3): number {
    return this.closest(point)!.distance;
  }
}

/**
 * Average number of triangle boxes met by a straight line through the surface's box: the sum of their areas over that of the whole
 * (surface area heuristic). A few in a segmentation; nearly all if triangles extend right across it.
 */
function crowding(mesh: TriangleMesh): number {
  return meshKernel(mesh)?.crowding(mesh) ?? crowdingPlainly(mesh);
}

export function crowdingPlainly({ positions, triangles }: TriangleMesh): number {
  let [x0, y0, z0, x1, y1, z1] = [Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity];
  let sum = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    const a = 3 * triangles[t];
    const b = 3 * triangles[t + 1];
    const c = 3 * triangles[t + 2];
    const left = Math.min(positions[a], positions[b], positions[c]);
    const right = Math.max(positions[a], positions[b], positions[c]);
    const front = Math.min(positions[a + 1], positions[b + 1], positions[c + 1]);
    const back = Math.max(positions[a + 1], positions[b + 1], positions[c + 1]);
    const low = Math.min(positions[a + 2], positions[b + 2], positions[c + 2]);
    const high = Math.max(positions[a + 2], positions[b + 2], positions[c + 2]);
    if (left < x0) x0 = left;
    if (right > x1) x1 = right;
    if (front < y0) y0 = front;
    if (back > y1) y1 = back;
    if (low < z0) z0 = low;
    if (high > z1) z1 = high;
    sum += boxArea(right - left, back - front, high - low);
  }
  const whole = boxArea(x1 - x0, y1 - y0, z1 - z0);
  return whole > 0 ? sum / whole : 0;
}

const boxArea = (x: number, y: number, z: number): number => x * y + y * z + z * x;
