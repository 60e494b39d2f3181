import { distance, dot, normalize, scale, subtract, type Vec3 } from '../foundation/vector.js';
import type { BoxTreeHit } from '../mesh/box-queries.js';
import { type BoxTree, boxTree } from '../mesh/box-tree.js';
import { pairEdges, RIM, UNPAIRED } from '../mesh/edge-pairing.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { layNormal } from '../mesh/triangle-normal.js';

/** The intersection of a ray with a surface. */
export type Hit = BoxTreeHit;

/**
 * One closed, outward-oriented surface prepared for queries: ray casts, closest points, inside or outside. Coordinates are mm relative to
 * `originMm`, which all surfaces of a case share: the bounding volume tree stores 32-bit numbers, so a lesion 10 m from the origin must
 * first be moved to it.
 */
export class Surface {
  /** mm, relative to `originMm`. */
  readonly positions: Float64Array;
  readonly triangles: Uint32Array;
  /** Opposite half-edge of half-edge 3·t+k; negative on a rim. */
  readonly twin: Int32Array;
  readonly originMm: Vec3;
  /** 1 if the triangle closes an open end and is not a vessel wall. */
  readonly isCap: Uint8Array;
  readonly isClosed: boolean;
  /** The mesh in the coordinates of this surface. */
  private readonly local: TriangleMesh;
  private laidTree: BoxTree | undefined;
  private readonly laid = new Float64Array(3);

  /** `twin`: the pairing of the mesh's half-edges, if already known. */
  constructor(
    mesh: TriangleMesh,
    originMm: Vec3,
    capTriangles: readonly number[] = [],
    twin: Int32Array = pairEdges(mesh).twin,
  ) {
    this.originMm = originMm;
    this.triangles = mesh.triangles;
    this.local = originMm.every((c) => c === 0) ? mesh : moved(mesh, originMm);
    this.positions = this.local.positions;
    this.twin = twin;
    this.isClosed = !twin.includes(RIM) && !twin.includes(UNPAIRED);
    this.isCap = new Uint8Array(mesh.triangles.length / 3);
    for (const t of capTriangles) this.isCap[t] = 1;
  }

  get triangleCount(): number {
    return this.triangles.length / 3;
  }

  get vertexCount(): number {
    return this.positions.length / 3;
  }

  vertex(v: number): Vec3 {
    const p = this.positions;
    return [p[3 * v], p[3 * v + 1], p[3 * v + 2]];
  }

  /** Unit outward normal of a triangle; zero for a degenerate one. */
  normal(t: number): Vec3 {
    const { laid } = this;
    layNormal(this, t, laid);
    return normalize([laid[0], laid[1], laid[2]]);
  }

  /** Cosine of the angle between a triangle's outward normal and a unit direction; 0 for a degenerate triangle. */
  facing(t: number, direction: Vec3): number {
    const twice = layNormal(this, t, this.laid);
    const { laid } = this;
    return twice > 0 ? (laid[0] * direction[0] + laid[1] * direction[1] + laid[2] * direction[2]) / twice : 0;
  }

  areaMm2(t: number): number {
    return layNormal(this, t, this.laid) / 2;
  }

  /** Whether a triangle's first corner is within `reachMm` of a point. */
  startsNear(t: number, point: Vec3, reachMm: number): boolean {
    const p = 3 * this.triangles[3 * t];
    const x = this.positions[p] - point[0];
    const y = this.positions[p + 1] - point[1];
    const z = this.positions[p + 2] - point[2];
    return x * x + y * y + z * z < reachMm * reachMm;
  }

  private get tree(): BoxTree {
    this.laidTree ??= boxTree(this.local);
    return this.laidTree;
  }

  /** A cube that contains the surface: its centre and half its side, mm. */
  cube(): { centre: Vec3; half: number } {
    const { low, high } = this.tree;
    const centre: Vec3 = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2];
    return { centre, half: Math.max(...this.sizeMm()) / 2 };
  }

  /** Sides of the bounding box, mm. */
  sizeMm(): Vec3 {
    const { low, high } = this.tree;
    return subtract(high, low);
  }

  /** Winding number at a point: exits minus entries along a ray, the median of three. */
  winding(point: Vec3): number {
    const votes = INSIDE_DIRECTIONS.map((direction) => {
      let sum = 0;
      this.tree.each(point, direction, (t) => {
        sum += Math.sign(this.facing(t, direction));
      });
      return sum;
    });
    return votes.sort((a, b) => a - b)[1];
  }

  /** First triangle hit by the ray, from either side; `direction` is a unit vector. */
  raycast(from: Vec3, direction: Vec3, maxMm = Number.POSITIVE_INFINITY): Hit | undefined {
    return this.tree.first(from, direction, 0, maxMm);
  }

  /** Closest point of the surface; undefined if none is within `maxMm`. */
  closest(to: Vec3, maxMm = Number.POSITIVE_INFINITY): Hit | undefined {
    const hit = this.tree.closest(to, maxMm);
    return hit && hit.distance <= maxMm ? hit : undefined;
  }

  /** False if the point is outside the bounding box, or the surface is open and has no inside; no ray is then needed. */
  mayHold(point: Vec3): boolean {
    return this.isClosed && this.tree.holds(point);
  }

  /** Mean edge length, mm, from a bounded sample of the triangles. */
  meanEdgeMm(): number {
    const stride = Math.max(1, Math.floor(this.triangleCount / 20000));
    let sum = 0;
    let count = 0;
    for (let t = 0; t < this.triangleCount; t += stride) {
      sum += distance(this.vertex(this.triangles[3 * t]), this.vertex(this.triangles[3 * t + 1]));
      count++;
    }
    return sum / count;
  }

  /** Inside or outside, by the majority of three rays: one ray may graze an edge. */
  isInside(point: Vec3): boolean {
    const [first, second, third] = INSIDE_DIRECTIONS;
    const vote = this.leavesAlong(point, first);
    return this.leavesAlong(point, second) === vote ? vote : this.leavesAlong(point, third);
  }

  /** Whether a ray from the point first hits the wall from inside. */
  private leavesAlong(point: Vec3, direction: Vec3): boolean {
    const hit = this.raycast(point, direction);
    return hit !== undefined && this.facing(hit.triangle, direction) > 0;
  }

  /** Distance to the surface, negative inside. */
  signedDistance(point: Vec3): number {
    const d = this.closest(point)!.distance;
    return this.isInside(point) ? -d : d;
  }

  /** The place where the segment first passes from outside to inside, if it does. */
  firstEntry(from: Vec3, to: Vec3): Hit | undefined {
    const span = distance(from, to);
    if (span === 0) return undefined;
    const direction = scale(subtract(to, from), 1 / span);
    let start = from;
    let left = span;
    for (let guard = 0; guard < 64 && left > 0; guard++) {
      const hit = this.raycast(start, direction, left);
      if (!hit) return undefined;
      if (dot(this.normal(hit.triangle), direction) < 0)
        return { ...hit, distance: distance(from, hit.point) };
      const skip = hit.distance + 1e-6;
      start = [
        start[0] + direction[0] * skip,
        start[1] + direction[1] * skip,
        start[2] + direction[2] * skip,
      ];
      left -= skip;
    }
    return undefined;
  }

  /** 1 for the triangles connected to a given one by edges. */
  joinedTo(triangle: number): Uint8Array {
    const joined = new Uint8Array(this.triangleCount);
    joined[triangle] = 1;
    const waiting = [triangle];
    for (let t = waiting.pop(); t !== undefined; t = waiting.pop())
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const other = this.twin[h] < 0 ? -1 : (this.twin[h] / 3) | 0;
        if (other < 0 || joined[other]) continue;
        joined[other] = 1;
        waiting.push(other);
      }
    return joined;
  }

  /** Converts a body from local to file coordinates. */
  toFileMesh(body: TriangleMesh): TriangleMesh {
    const positions = body.positions.map((x, i) => x + this.originMm[i % 3]);
    return { positions, triangles: body.triangles };
  }

  /** Converts a point from local to file coordinates, mm. */
  toFile(point: Vec3): Vec3 {
    return [point[0] + this.originMm[0], point[1] + this.originMm[1], point[2] + this.originMm[2]];
  }
}

function moved({ positions, triangles }: TriangleMesh, originMm: Vec3): TriangleMesh {
  const local = new Float64Array(positions.length);
  const [x, y, z] = originMm;
  for (let i = 0; i < local.length; i += 3) {
    local[i] = positions[i] - x;
    local[i + 1] = positions[i + 1] - y;
    local[i + 2] = positions[i + 2] - z;
  }
  return { positions: local, triangles };
}

/** Three directions that are unlikely to graze an axis-aligned or regular mesh. */
const INSIDE_DIRECTIONS: readonly Vec3[] = [
  normalize([0.8712, 0.3329, 0.3614]),
  normalize([-0.2877, 0.9021, -0.3214]),
  normalize([0.1931, -0.4107, 0.8911]),
];
