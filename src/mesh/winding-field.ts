import { BufferAttribute, BufferGeometry, DoubleSide, Ray, Vector3 } from 'three';
import { CENTER, MeshBVH } from 'three-mesh-bvh';
import { cross, dot, normalize, subtract, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from './mesh.js';

/** Directions with no simple ratios, so that rays do not run along faces and edges of gridded models. */
const DIRECTIONS: readonly Vec3[] = [
  normalize([0.8712, 0.3329, 0.3614]),
  normalize([-0.2877, 0.9021, -0.3214]),
  normalize([0.1931, -0.4107, 0.8911]),
];

/** A closed surface that may cross itself, asked how often it goes round a point and how far away it is. */
export class WindingField {
  private readonly mesh: TriangleMesh;
  private readonly tree: MeshBVH;
  private readonly ray = new Ray();
  private readonly target = { point: new Vector3(), distance: 0, faceIndex: 0 };

  constructor(mesh: TriangleMesh) {
    this.mesh = mesh;
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
    const hit = this.tree.closestPointToPoint(new Vector3(...point), this.target, 0, maxMm);
    return hit
      ? { point: hit.point.toArray() as Vec3, distance: hit.distance, triangle: hit.faceIndex }
      : undefined;
  }

  distance(point: Vec3): number {
    return this.closest(point)!.distance;
  }
}
