import { createRequire } from 'node:module';
import Module, { type ManifoldToplevel } from 'manifold-3d';
import {
  BoxGeometry,
  type BufferGeometry,
  CapsuleGeometry,
  CylinderGeometry,
  DodecahedronGeometry,
  IcosahedronGeometry,
  OctahedronGeometry,
  TorusGeometry,
  TorusKnotGeometry,
} from 'three';
import { RoundedBoxGeometry } from 'three/examples/jsm/geometries/RoundedBoxGeometry.js';
import { TeapotGeometry } from 'three/examples/jsm/geometries/TeapotGeometry.js';
import { beforeAll, describe, expect, it, vi } from 'vitest';
import { capPlanarLoops } from '../../src/mesh/cap.js';
import { measure } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { orient } from '../../src/mesh/orient.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { weld } from '../../src/mesh/weld.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

// Reference: manifold-3d 3.5.4 (Apache-2.0), which shares no code with the program's own measures. Meshes: shapes generated
// by three 0.187.0 (MIT). The teapot is that of M. Newell (University of Utah, 1975, commonly said to be free of rights; from
// memory), which three includes as Bézier patches; its spout, lid and handle cross the body, so it is compared as an open
// surface with its rims closed.

let manifold: ManifoldToplevel;
beforeAll(async () => {
  manifold = await Module();
  manifold.setup();
});

function fromThree(geometry: BufferGeometry, tolerance: number): TriangleMesh {
  const plain = geometry.index ? geometry.toNonIndexed() : geometry;
  const positions = Float64Array.from(plain.getAttribute('position').array);
  const triangles = Uint32Array.from({ length: positions.length / 3 }, (_, i) => i);
  return weld({ positions, triangles }, tolerance).mesh;
}

/** Volume and area from the reference library, where it accepts the mesh. */
function reference(mesh: TriangleMesh): { volume: number; area: number } {
  const solid = new manifold.Manifold(
    new manifold.Mesh({
      numProp: 3,
      vertProperties: Float32Array.from(mesh.positions),
      triVerts: mesh.triangles,
    }),
  );
  const result = { volume: solid.volume(), area: solid.surfaceArea() };
  solid.delete();
  return result;
}

describe('volume and area against manifold-3d within 0.1 %', () => {
  it.each<[string, BufferGeometry]>([
    ['three BoxGeometry', new BoxGeometry(10, 20, 30, 4, 5, 6)],
    ['three CylinderGeometry', new CylinderGeometry(3, 5, 20, 48, 8)],
    ['three CapsuleGeometry', new CapsuleGeometry(4, 12, 16, 32)],
    ['three TorusGeometry', new TorusGeometry(20, 5, 32, 96)],
    ['three TorusKnotGeometry 2,3', new TorusKnotGeometry(20, 4, 256, 24, 2, 3)],
    ['three TorusKnotGeometry 3,5', new TorusKnotGeometry(30, 3, 400, 16, 3, 5)],
    ['three IcosahedronGeometry', new IcosahedronGeometry(12, 8)],
    ['three DodecahedronGeometry', new DodecahedronGeometry(12)],
    ['three OctahedronGeometry', new OctahedronGeometry(12, 3)],
    ['three RoundedBoxGeometry', new RoundedBoxGeometry(12, 9, 30, 5, 2)],
  ])('%s', (_, geometry) => {
    const raw = fromThree(geometry, 1e-5);
    const { mesh } = orient(raw, buildTopology(raw));
    expect(buildTopology(mesh).isWatertight).toBe(true);
    const own = measure(mesh);
    const theirs = reference(mesh);
    expect(Math.abs(own.volumeMm3 / theirs.volume - 1)).toBeLessThan(1e-3);
    expect(Math.abs(own.areaMm2 / theirs.area - 1)).toBeLessThan(1e-3);
    // the measured difference is that of 32-bit coordinates; a larger one would be a defect
    expect(Math.abs(own.volumeMm3 / theirs.volume - 1)).toBeLessThan(1e-5);
  });

  it('body of the Newell teapot as in three (TeapotGeometry, without bottom and lid, rims closed)', () => {
    const raw = fromThree(new TeapotGeometry(25, 10, false, false, true, true), 1e-4);
    const topology = buildTopology(raw);
    // the body is the largest connected part
    const largest = topology.componentSizes.indexOf(Math.max(...topology.componentSizes));
    const kept = [];
    for (let t = 0; t < topology.component.length; t++) {
      if (topology.component[t] === largest) kept.push(...raw.triangles.slice(3 * t, 3 * t + 3));
    }
    const body = weld({ positions: raw.positions, triangles: Uint32Array.from(kept) }).mesh;
    const oriented = orient(body, buildTopology(body)).mesh;
    const open = buildTopology(oriented);
    expect(open.loops.length).toBeGreaterThan(0);
    const { mesh, refused } = capPlanarLoops(oriented, open.loops, { planarityFraction: 0.02 });
    expect(refused).toEqual([]);
    expect(buildTopology(mesh).isWatertight).toBe(true);
    const own = measure(mesh);
    const theirs = reference(mesh);
    expect(own.volumeMm3).toBeGreaterThan(0);
    expect(Math.abs(own.volumeMm3 / theirs.volume - 1)).toBeLessThan(1e-3);
    expect(Math.abs(own.areaMm2 / theirs.area - 1)).toBeLessThan(1e-3);
  });
});

// Public meshes, as packages for tests: arrays of positions and cells.
//   bunny 1.0.1 (public domain): a reduction of the Stanford bunny; closed, used as it is.
//   teapot 1.0.0 (public domain): the Utah teapot; its corners had to be joined (792 to 529 vertices) and its six plane rims closed;
//     spout, lid and handle cross the body, and both sides count them as separate bodies.
//   snowden 1.0.1 (MIT, H. Kennedy): a scanned bust; the triangles at edges shared by more than two were removed, the largest
//     connected part kept, and every opening closed by a fan about its centre.
describe('public meshes against manifold-3d within 0.1 %', () => {
  const require = createRequire(import.meta.url);
  const publicMesh = (name: string): TriangleMesh => {
    const { positions, cells } = require(name) as { positions: number[][]; cells: number[][] };
    return weld({ positions: Float64Array.from(positions.flat()), triangles: Uint32Array.from(cells.flat()) })
      .mesh;
  };
  const outward = (mesh: TriangleMesh): TriangleMesh => orient(mesh, buildTopology(mesh)).mesh;
  const agree = (mesh: TriangleMesh): void => {
    expect(buildTopology(mesh).isWatertight).toBe(true);
    const own = measure(mesh);
    const theirs = reference(mesh);
    expect(theirs.volume).toBeGreaterThan(0);
    expect(Math.abs(own.volumeMm3 / theirs.volume - 1)).toBeLessThan(1e-3);
    expect(Math.abs(own.areaMm2 / theirs.area - 1)).toBeLessThan(1e-3);
  };

  it('bunny', () => {
    const mesh = publicMesh('bunny');
    expect(mesh.triangles.length / 3).toBe(3674);
    agree(outward(mesh));
  });

  it('teapot, rims closed', () => {
    const mesh = outward(publicMesh('teapot'));
    const { loops } = buildTopology(mesh);
    expect(loops).toHaveLength(6);
    const { mesh: closed, refused } = capPlanarLoops(mesh, loops, { planarityFraction: 0.001 });
    expect(refused).toEqual([]);
    agree(closed);
  });

  it('snowden, largest part, closed by fans', () => {
    let mesh = publicMesh('snowden');
    const whole = mesh.triangles.length / 3;
    for (let left = -1; left !== mesh.triangles.length; ) {
      left = mesh.triangles.length;
      mesh = largestCleanPart(mesh);
    }
    expect(mesh.triangles.length / 3 / whole).toBeGreaterThan(0.98);
    mesh = outward(mesh);
    agree(closedByFans(mesh));
  });
});

/** Without triangles at edges shared by more than two; the largest connected part. */
function largestCleanPart(mesh: TriangleMesh): TriangleMesh {
  const { component, componentSizes, twin } = buildTopology(mesh);
  const largest = componentSizes.indexOf(Math.max(...componentSizes));
  const kept: number[] = [];
  for (let t = 0; t < component.length; t++) {
    if (component[t] === largest && twin[3 * t] !== -2 && twin[3 * t + 1] !== -2 && twin[3 * t + 2] !== -2)
      kept.push(...mesh.triangles.subarray(3 * t, 3 * t + 3));
  }
  return weld({ positions: mesh.positions, triangles: Uint32Array.from(kept) }).mesh;
}

function closedByFans(mesh: TriangleMesh): TriangleMesh {
  const points = [...mesh.positions];
  const faces = [...mesh.triangles];
  for (const { centroid, halfEdges } of buildTopology(mesh).loops) {
    const middle = points.length / 3;
    points.push(...centroid);
    for (const h of halfEdges)
      faces.push(mesh.triangles[h % 3 === 2 ? h - 2 : h + 1], mesh.triangles[h], middle);
  }
  return { positions: Float64Array.from(points), triangles: Uint32Array.from(faces) };
}
