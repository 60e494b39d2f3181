import type { Manifold, ManifoldToplevel } from 'manifold-3d/manifold';
import type { Vec3 } from '../foundation/vector.js';
import { WorkBudget } from '../foundation/work-budget.js';
import { inOrderOfUse } from '../mesh/in-order-of-use.js';
import type { TriangleMesh } from '../mesh/mesh.js';

/**
 * Holds the solid kernel and every solid made with it, so that all can be freed together, since the kernel's memory is not garbage
 * collected. The kernel keeps coordinates as 32-bit numbers.
 */
export class Workshop {
  readonly kernel: ManifoldToplevel;
  /** Counts the work done with the solids. */
  readonly work: WorkBudget;
  private readonly made: Manifold[] = [];
  /** Estimated triangles of solids that the kernel has not evaluated yet; querying it would force the evaluation. */
  private readonly estimated = new WeakMap<Manifold, number>();

  constructor(kernel: ManifoldToplevel, work: WorkBudget) {
    this.kernel = kernel;
    this.work = work;
  }

  /** Loads the kernel; a new one each time, so that one model cannot affect the next. */
  static async open(work = new WorkBudget(Number.POSITIVE_INFINITY)): Promise<Workshop> {
    const { default: load } = await import('manifold-3d/manifold');
    const kernel = await load();
    kernel.setup();
    return new Workshop(kernel, work);
  }

  keep(solid: Manifold): Manifold {
    this.made.push(solid);
    return solid;
  }

  /** A solid from a closed, consistently wound mesh. Throws if the kernel rejects it. */
  solid(mesh: TriangleMesh): Manifold {
    this.work.spend(SOLID_STEPS * (mesh.triangles.length / 3));
    const made = new this.kernel.Manifold(
      new this.kernel.Mesh({
        numProp: 3,
        vertProperties: new Float32Array(mesh.positions),
        triVerts: mesh.triangles,
      }),
    );
    return this.keep(made);
  }

  union(solids: readonly Manifold[]): Manifold {
    if (solids.length === 1) return solids[0];
    return this.combined(solids, () => this.kernel.Manifold.union(solids));
  }

  /** `a` without `b`. */
  difference(a: Manifold, b: Manifold): Manifold {
    return this.combined([a, b], () => this.kernel.Manifold.difference(a, b));
  }

  intersection(a: Manifold, b: Manifold): Manifold {
    return this.combined([a, b], () => this.kernel.Manifold.intersection(a, b));
  }

  private combined(solids: readonly Manifold[], combine: () => Manifold): Manifold {
    const triangles = solids.reduce((sum, s) => sum + (this.estimated.get(s) ?? s.numTri()), 0);
    this.work.spend(COMBINE_STEPS * triangles);
    const made = this.keep(combine());
    this.estimated.set(made, triangles);
    return made;
  }

  /** Level surface of a field. An error in the field is rethrown after the kernel returns. */
  levelSet(value: (p: Vec3) => number, bounds: { min: Vec3; max: Vec3 }, stepMm: number): Manifold {
    const guarded = untilThrown(value, () => -1);
    const made = this.keep(this.kernel.Manifold.levelSet(guarded.call, bounds, stepMm, 0));
    guarded.rethrow();
    return made;
  }

  /** Moves every vertex in place. An error in `move` is rethrown after the kernel returns. */
  warp(solid: Manifold, move: (p: Vec3) => void): Manifold {
    const guarded = untilThrown(move, () => undefined);
    const made = this.keep(solid.warp(guarded.call));
    guarded.rethrow();
    return made;
  }

  decompose(solid: Manifold): Manifold[] {
    this.work.spend(COMBINE_STEPS * (this.estimated.get(solid) ?? solid.numTri()));
    return solid.decompose().map((piece) => this.keep(piece));
  }

  hull(solids: readonly Manifold[]): Manifold {
    return this.keep(this.kernel.Manifold.hull(solids));
  }

  sphere(centre: Vec3, radiusMm: number, segments: number): Manifold {
    const ball = this.keep(this.kernel.Manifold.sphere(radiusMm, segments));
    return this.keep(ball.translate(centre));
  }

  /** Round bar from `from` to `to`; its facets touch the true cylinder from inside. */
  bar(from: Vec3, to: Vec3, radiusMm: number, segments = 32): Manifold {
    const d: Vec3 = [to[0] - from[0], to[1] - from[1], to[2] - from[2]];
    const length = Math.hypot(...d);
    const raw = this.keep(this.kernel.Manifold.cylinder(length, radiusMm, radiusMm, segments));
    const z: Vec3 = [d[0] / length, d[1] / length, d[2] / length];
    const helper: Vec3 = Math.abs(z[0]) < 0.6 ? [1, 0, 0] : [0, 1, 0];
    const y = unit([
      z[1] * helper[2] - z[2] * helper[1],
      z[2] * helper[0] - z[0] * helper[2],
      z[0] * helper[1] - z[1] * helper[0],
    ]);
    const x: Vec3 = [y[1] * z[2] - y[2] * z[1], y[2] * z[0] - y[0] * z[2], y[0] * z[1] - y[1] * z[0]];
    return this.place(raw, x, y, z, from);
  }

  /** Transforms a solid so that its axes become x, y, z and its origin `at`. */
  place(solid: Manifold, x: Vec3, y: Vec3, z: Vec3, at: Vec3): Manifold {
    return this.keep(solid.transform([...x, 0, ...y, 0, ...z, 0, ...at, 1]));
  }

  close(): void {
    for (const solid of this.made) solid.delete();
    this.made.length = 0;
  }
}

/** Coordinates rounded to 32-bit numbers, as the kernel and an STL file keep them. */
export const in32Bits = (positions: ArrayLike<number>): Float64Array =>
  new Float64Array(new Float32Array(positions));

/** Work steps per triangle for making a solid from a mesh, and for each operation of the solid kernel. */
const SOLID_STEPS = 4;
const COMBINE_STEPS = 3;

/**
 * Wraps a callback for the kernel, which must not throw: after the first exception, which is kept, it only returns `instead`.
 */
function untilThrown<A, R>(
  call: (argument: A) => R,
  instead: () => R,
): { call: (argument: A) => R; rethrow: () => void } {
  let thrown: { error: unknown } | undefined;
  return {
    call: (argument) => {
      if (thrown) return instead();
      try {
        return call(argument);
      } catch (error) {
        thrown = { error };
        return instead();
      }
    },
    rethrow: () => {
      if (thrown) throw thrown.error;
    },
  };
}

const unit = (a: Vec3): Vec3 => {
  const n = Math.hypot(...a);
  return [a[0] / n, a[1] / n, a[2] / n];
};

const meshes = new WeakMap<Manifold, TriangleMesh>();

/**
 * Triangles of a solid, coordinates exactly representable in 32 bits; vertices joined by the kernel are one. Repeated calls return the
 * same mesh.
 */
export function meshOfSolid(solid: Manifold): TriangleMesh {
  let mesh = meshes.get(solid);
  if (!mesh) {
    mesh = trianglesOf(solid);
    meshes.set(solid, mesh);
  }
  return mesh;
}

function trianglesOf(solid: Manifold): TriangleMesh {
  const { numProp, vertProperties, triVerts, mergeFromVert, mergeToVert } = solid.getMesh();
  const positions = new Float64Array(
    numProp === 3 ? vertProperties : vertProperties.filter((_, i) => i % numProp < 3),
  );
  if (!mergeFromVert?.length) return inOrderOfUse({ positions, triangles: triVerts });
  const target = Uint32Array.from({ length: positions.length / 3 }, (_, v) => v);
  for (let i = 0; i < mergeFromVert.length; i++) target[mergeFromVert[i]] = mergeToVert[i];
  return inOrderOfUse({ positions, triangles: triVerts.map((v) => target[v]) });
}
