import { BufferAttribute, BufferGeometry, DoubleSide, Ray, Vector3 } from 'three';
import { CENTER, MeshBVH } from 'three-mesh-bvh';
import { cross, dot, normalize, subtract, type Vec3 } from '../foundation/vector.js';
import type { WorkBudget } from '../foundation/work-budget.js';
import type { TriangleMesh } from './mesh.js';

/** Directions with no simple ratios, so that rays do not run along faces and edges of gridded models. */
const DIRECTIONS: readonly Vec3[] = [
  normalize([0.8712, 0.3329, 0.3614]),
  normalize([-0.2877, 0.9021, -0.3214]),
  normalize([0.1931, -0.4107, 0.8911]),
];

/** Steps of one question, and of each triangle more whose box a place lies in on average. */
const QUESTION_STEPS = 6;
/** Steps of building the tree, a triangle. */
const TREE_STEPS = 1;
const CROWDED_STEPS = 0.3;

/** A closed surface that may cross itself, asked how often it goes round a point and how far away it is. */
export class WindingField {
  private readonly mesh: TriangleMesh;
  private readonly tree: MeshBVH;
  private readonly ray = new Ray();
  private readonly work: WorkBudget | undefined;
  /** Steps of work that one question costs. */
  readonly questionSteps: number;
  private readonly target = { point: new Vector3(), distance: 0, faceIndex: 0 };

  /** `work`: where questions are counted. */
  constructor(mesh: TriangleMesh, work?: WorkBudget) {
    this.mesh = mesh;
    this.work = work;
    this.questionSteps = work ? QUESTION_STEPS + CROWDED_STEPS * crowding(mesh) : 0;
    work?.spend(TREE_STEPS * (mesh.triangles.length / 3));
    const geometry = new BufferGeometry();
    geometry.setAttribute('position', new BufferAttribute(Float32Array.from(mesh.positions), 3));
    geometry.setIndex(new BufferAttribute(mesh.triangles, 1));
    this.tree = new MeshBVH(geometry, { indirect: true, strategy: CENTER });
  }

  vertex(v: number): Vec3 {
    const { positions } = this.mesh;
    return [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
  }

  normal(t: number): Vec3 {
    const [a, b, c] = this.corners(t);
    return normalize(cross(subtract(b, a), subtract(c, a)));
  }

  centroid(t: number): Vec3 {
    const [a, b, c] = this.corners(t);
    return [0, 1, 2].map((k) => (a[k] + b[k] + c[k]) / 3) as Vec3;
  }

  private corners(t: number): [Vec3, Vec3, Vec3] {
    const { triangles } = this.mesh;
    return [
      this.vertex(triangles[3 * t]),
      this.vertex(triangles[3 * t + 1]),
      this.vertex(triangles[3 * t + 2]),
    ];
  }

  /** Exits minus entries along one ray: 0 outside, 1 inside, more where the surface overlaps itself. Middle of three rays. */
  winding(point: Vec3): number {
    this.work?.spend(3 * this.questionSteps);
    const votes = DIRECTIONS.map((direction) => {
      this.ray.origin.set(...point);
      this.ray.direction.set(...direction);
      let sum = 0;
      for (const hit of this.tree.raycast(this.ray, DoubleSide)) {
        if (hit.faceIndex != null) sum += Math.sign(dot(this.normal(hit.faceIndex), direction));
      }
      return sum;
    });
    return votes.sort((a, b) => a - b)[1];
  }

  /** First triangle along a ray past `fromMm`, with its distance. */
  first(point: Vec3, direction: Vec3, fromMm = 0): { distance: number; triangle: number } | undefined {
    this.work?.spend(this.questionSteps);
    this.ray.origin.set(...point);
    this.ray.direction.set(...direction);
    const hit = this.tree.raycastFirst(this.ray, DoubleSide, fromMm);
    return hit?.faceIndex == null ? undefined : { distance: hit.distance, triangle: hit.faceIndex };
  }

  /** Closest point of the surface and its distance, mm; undefined beyond `maxMm`. */
  closest(
    point: Vec3,
    maxMm = Number.POSITIVE_INFINITY,
  ): { point: Vec3; distance: number; triangle: number } | undefined {
    this.work?.spend(this.questionSteps);
    const hit = this.tree.closestPointToPoint(new Vector3(...point), this.target, 0, maxMm);
    return hit
      ? { point: hit.point.toArray() as Vec3, distance: hit.distance, triangle: hit.faceIndex }
      : undefined;
  }

  distance(point: Vec3): number {
    return this.closest(point)!.distance;
  }
}

/**
 * How many triangles' boxes a straight line through the surface's box meets on average: the sum of their areas over that of
 * the whole (surface area heuristic). A few in a segmentation; nearly all where triangles run right across it.
 */
function crowding({ positions, triangles }: TriangleMesh): number {
  const low = [0, 0, 0];
  const high = [0, 0, 0];
  const all = { low: [Infinity, Infinity, Infinity], high: [-Infinity, -Infinity, -Infinity] };
  let sum = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    for (let k = 0; k < 3; k++) {
      const [a, b, c] = [0, 1, 2].map((i) => positions[3 * triangles[t + i] + k]);
      low[k] = Math.min(a, b, c);
      high[k] = Math.max(a, b, c);
      all.low[k] = Math.min(all.low[k], low[k]);
      all.high[k] = Math.max(all.high[k], high[k]);
    }
    sum += boxArea(low, high);
  }
  const whole = boxArea(all.low, all.high);
  return whole > 0 ? sum / whole : 0;
}

function boxArea(low: readonly number[], high: readonly number[]): number {
  const [x, y, z] = [0, 1, 2].map((k) => high[k] - low[k]);
  return x * y + y * z + z * x;
}
