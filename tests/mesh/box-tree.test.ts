import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { BufferAttribute, BufferGeometry, DoubleSide, Ray, Vector3 } from 'three';
import { CENTER, MeshBVH } from 'three-mesh-bvh';
import { expect, it, vi } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import { type BoxOrder, boxOrder, CompiledBoxOrder, PlainBoxOrder } from '../../src/mesh/box-order.js';
import { type BoxQueries, RAY } from '../../src/mesh/box-queries.js';
import { BoxTree, boxQueries } from '../../src/mesh/box-tree.js';
import { CompiledBoxTree } from '../../src/mesh/compiled-box-tree.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { PlainBoxTree } from '../../src/mesh/plain-box-tree.js';
import { box, cylinder, gridSphere, moved, ringVessel, together, tube } from './shapes.js';

// Reference: three-mesh-bvh 0.9.17 (MIT), which builds its whole tree at once and shares no code with ours. The same triangle
// must be found even where several are equally near, so that no value measured from it depends on which tree was asked.

function built(name: string): WebAssembly.Module {
  const file = fileURLToPath(new URL(`../../dist/mesh/${name}.wasm`, import.meta.url));
  if (!existsSync(file)) throw new Error(`${file} is missing. Run: npm run build`);
  return new WebAssembly.Module(readFileSync(file));
}

const orderProgram = built('box-order');
const treeProgram = built('box-tree');

function reference({ positions, triangles }: TriangleMesh): MeshBVH {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(positions), 3));
  geometry.setIndex(new BufferAttribute(triangles, 1));
  return new MeshBVH(geometry, { indirect: true, strategy: CENTER });
}

/** Numbers in [0, 1) from a linear congruential generator (constants of Numerical Recipes, from memory; any will do). */
function drawn(seed: number): () => number {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

function soup(count: number): TriangleMesh {
  const draw = drawn(7);
  const positions = Float64Array.from({ length: 9 * count }, (_, i) => (i % 9 < 3 ? 20 : 20.5) * draw());
  return { positions, triangles: Uint32Array.from({ length: 3 * count }, (_, i) => i) };
}

/** Points around a mesh: its corners, points near them, and far ones; every third one rounded to halves, for ties. */
function places({ positions }: TriangleMesh, count: number): Vec3[] {
  const draw = drawn(11);
  const list: Vec3[] = [];
  for (let i = 0; i < count; i++) {
    const v = 3 * Math.floor((draw() * positions.length) / 3);
    const off = [0, 0.1, 1, 30][i % 4];
    const place = [0, 1, 2].map((k) => positions[v + k] + off * (draw() - 0.5));
    list.push((i % 3 === 0 ? place.map((x) => Math.round(2 * x) / 2) : place) as Vec3);
  }
  return list;
}

const DIRECTIONS: Vec3[] = [
  [1, 0, 0],
  [0, -1, 0],
  [0, 0, 1],
  [-Math.SQRT1_2, Math.SQRT1_2, 0],
  [0.36, 0.48, -0.8],
  [-0.6, -0.64, 0.48],
];

const SHAPES: [string, TriangleMesh][] = [
  ['box', box(2, 3, 4)],
  ['box about the origin', box(2, 2, 2, [-1, -1, -1])],
  ['prism with fans', cylinder(64, 3, 10, 20)],
  ['open tube', tube(24, 2, 9, 30)],
  ['sphere', gridSphere(40, 10)],
  ['ring', ringVessel(60, 3, 12)],
  ['random large triangles', soup(400)],
  ['one triangle 50 times', together(...Array.from({ length: 50 }, () => tube(3, 1, 1, 2)))],
  ['sphere far from the origin', moved(gridSphere(20, 3), [500, -200, 900])],
  ['no triangles', { positions: new Float64Array(0), triangles: new Uint32Array(0) }],
];

const bytesOf = ({ buffer, byteOffset, byteLength }: Uint32Array | Float32Array): Buffer =>
  Buffer.from(buffer as ArrayBuffer, byteOffset, byteLength);

const KINDS: [string, (mesh: TriangleMesh) => BoxQueries][] = [
  ['plain', (mesh) => new PlainBoxTree(mesh, new PlainBoxOrder(mesh))],
  ['compiled order', (mesh) => new PlainBoxTree(mesh, new CompiledBoxOrder(orderProgram, mesh))],
  ['compiled', (mesh) => new CompiledBoxTree(treeProgram, mesh)],
];

it.each(
  SHAPES.flatMap(([name, mesh]) => KINDS.map(([kind, queries]) => [name, kind, mesh, queries] as const)),
)('%s, %s: rays and closest points match three-mesh-bvh to the last bit', (_, _kind, mesh, queries) => {
  const tree = new BoxTree(mesh, queries(mesh));
  const theirs = reference(mesh);
  const at = mesh.triangles.length > 0 ? places(mesh, 600) : ([[0, 0, 0]] as Vec3[]);
  let hits = 0;
  at.forEach((from, i) => {
    const point = new Vector3(...from);
    const mostMm = [Number.POSITIVE_INFINITY, 1, 0.02][i % 3];
    const closest = tree.closest(from, mostMm);
    const near = theirs.closestPointToPoint(point, undefined, 0, mostMm);
    expect(closest).toEqual(
      near ? { point: near.point.toArray(), distance: near.distance, triangle: near.faceIndex } : undefined,
    );
    const direction = DIRECTIONS[i % DIRECTIONS.length];
    const ray = new Ray(point, new Vector3(...direction));
    const [least, most] = [
      [0, Number.POSITIVE_INFINITY],
      [1e-4, 5],
    ][i % 2];
    const hit = tree.first(from, direction, least, most);
    const first = theirs.raycastFirst(ray, DoubleSide, least, most);
    expect(hit).toEqual(
      first
        ? { point: first.point.toArray(), distance: first.distance, triangle: first.faceIndex }
        : undefined,
    );
    const all: number[] = [];
    tree.each(from, direction, (t) => all.push(t));
    const every = theirs.raycast(ray, DoubleSide).map((h) => h.faceIndex!);
    expect(all.sort((a, b) => a - b)).toEqual(every.sort((a, b) => a - b));
    if (hit) hits++;
  });
  if (mesh.triangles.length > 0) expect(hits).toBeGreaterThan(50);
  const { min, max } = theirs.geometry.boundingBox!;
  expect([tree.low, tree.high]).toEqual([min.toArray(), max.toArray()]);
});

it.each(SHAPES)('%s: the compiled order places boxes and splits triangles like the plain one', (_, mesh) => {
  const plain = new PlainBoxOrder(mesh);
  const compiled = new CompiledBoxOrder(orderProgram, mesh);
  const draw = drawn(3);
  const count = mesh.triangles.length / 3;
  const laid = (order: BoxOrder) => [...order.laid].filter((_, i) => i % 4 !== 3);
  for (let i = 0; i < 60; i++) {
    const from = Math.floor(draw() * count);
    const some = i % 5 === 0 ? count - from : Math.ceil(draw() * Math.min(40, count - from));
    plain.layAround(from, some);
    compiled.layAround(from, some);
    expect(laid(compiled)).toEqual(laid(plain));
    const axis = i % 3;
    // occasionally exactly at a centre, where the triangle belongs to the second part
    const middle =
      i % 4 === 0 ? plain.boxes[6 * from + axis] : (plain.laid[8 + axis] + plain.laid[12 + axis]) / 2;
    const cut = compiled.part(from, some, axis, middle);
    expect(cut).toBe(plain.part(from, some, axis, middle));
    expect(bytesOf(compiled.order).equals(bytesOf(plain.order))).toBe(true);
    expect(bytesOf(compiled.boxes).equals(bytesOf(plain.boxes))).toBe(true);
    const isBefore = Array.from({ length: some }, (_, t) => plain.boxes[6 * (from + t) + axis] < middle);
    expect(isBefore.lastIndexOf(true)).toBe(cut - from - 1);
    expect(isBefore.indexOf(false)).toBe(cut < from + some ? cut - from : -1);
  }
  expect([...compiled.order.toSorted()]).toEqual(Array.from({ length: count }, (_, t) => t));
});

/** Numbers at the limits of what a coordinate can be, and beyond. */
const ODD = [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, 0, -0, 5e-324, 1e-40, 1e38];

/** Meshes that no reader accepts: flat triangles, repeated triangles, coordinates that are NaN or denormal. */
function odd(count: number, seed: number): TriangleMesh {
  const draw = drawn(seed);
  const vertices = Math.max(3, Math.ceil(count * draw()));
  const step = [0, 0.25, 1][Math.floor(3 * draw())];
  const positions = Float64Array.from({ length: 3 * vertices }, () => {
    if (draw() < 0.004) return ODD[Math.floor(draw() * ODD.length)];
    const x = 8 * (draw() - 0.5);
    return step > 0 ? step * Math.round(x / step) : x;
  });
  const corner = (): number => Math.floor(draw() * vertices);
  return { positions, triangles: Uint32Array.from({ length: 3 * count }, corner) };
}

/** What a tree answers to each query; `toEqual` distinguishes -0 from 0. */
const answered = (tree: BoxQueries, from: Vec3, direction: Vec3, limits: readonly number[]): unknown => {
  const all: number[] = [];
  tree.each(from, direction, (t) => all.push(t));
  return [tree.first(from, direction, limits[0], limits[1]), tree.closest(from, limits[1]), all];
};

it.each(Array.from({ length: 60 }, (_, seed) => [seed, [3, 11, 40, 300, 2000][seed % 5]] as const))(
  'seed %i, %i triangles of any kind: the compiled tree answers like the plain one, in the same order',
  (seed, count) => {
    const mesh = odd(count, seed);
    const plain = new PlainBoxTree(mesh, new PlainBoxOrder(mesh));
    const compiled = new CompiledBoxTree(treeProgram, mesh);
    expect(compiled.around).toEqual(plain.around);
    const draw = drawn(seed + 1000);
    let found = 0;
    for (let i = 0; i < 300; i++) {
      const any = (): number => (draw() < 0.01 ? ODD[Math.floor(draw() * ODD.length)] : 10 * (draw() - 0.5));
      const from: Vec3 = i % 3 === 0 ? places(mesh, 1 + (i % 50)).at(-1)! : [any(), any(), any()];
      const direction: Vec3 = i % 2 === 0 ? DIRECTIONS[(i >> 1) % 6] : [any(), any(), any()];
      const limits = [
        [0, Number.POSITIVE_INFINITY],
        [1e-4, 3],
        [1, 0.5],
      ][i % 3];
      const answer = answered(plain, from, direction, limits);
      expect(answered(compiled, from, direction, limits)).toEqual(answer);
      if ((answer as unknown[])[1]) found++;
    }
    expect(found).toBeGreaterThan(20);
  },
);

it.each(SHAPES)('%s: many rays at once end where each does alone', (_, mesh) => {
  const from = mesh.triangles.length > 0 ? places(mesh, 700) : [[0, 0, 0] as Vec3];
  const laid = from.flatMap((at, i) => [...at, ...DIRECTIONS[i % 6], 0, 0]);
  for (const [, queries] of KINDS) {
    const tree = new BoxTree(mesh, queries(mesh));
    for (const [least, most] of [
      [0, Number.POSITIVE_INFINITY],
      [1e-4, 5],
    ]) {
      const rays = Float64Array.from(laid);
      tree.firsts(rays, from.length - 1, least, most);
      const expected = from.flatMap((at, i) => {
        const hit = tree.first(at, DIRECTIONS[i % 6], least, most);
        const end = [hit?.distance ?? Number.POSITIVE_INFINITY, hit?.triangle ?? -1];
        return [...at, ...DIRECTIONS[i % 6], ...(i < from.length - 1 ? end : [0, 0])];
      });
      expect(rays).toHaveLength(RAY * from.length);
      expect([...rays]).toEqual(expected);
    }
  }
});

it('uses the plain version where the system gives no more memory, for a small mesh, and for one too large to copy', () => {
  const mesh = gridSphere(120, 10);
  const all = gridSphere(330, 10);
  const part = { positions: all.positions, triangles: all.triangles.slice(0, 900) };
  expect(boxOrder(mesh, orderProgram)).toBeInstanceOf(CompiledBoxOrder);
  expect(boxQueries(mesh, treeProgram)).toBeInstanceOf(CompiledBoxTree);
  expect(boxOrder(box(2, 3, 4), orderProgram)).toBeInstanceOf(PlainBoxOrder);
  expect(boxQueries(box(2, 3, 4), treeProgram)).toBeInstanceOf(PlainBoxTree);
  expect(all.triangles.length / 3).toBeGreaterThan(100_000);
  expect(boxQueries(all, treeProgram)).toBeInstanceOf(PlainBoxTree);
  expect(boxQueries(part, treeProgram)).toBeInstanceOf(PlainBoxTree);
  const refused = vi.spyOn(WebAssembly, 'Memory').mockImplementation(function refuse() {
    throw new RangeError('could not allocate memory');
  });
  try {
    expect(boxOrder(mesh, orderProgram)).toBeInstanceOf(PlainBoxOrder);
    expect(boxQueries(mesh, treeProgram)).toBeInstanceOf(PlainBoxTree);
    expect(refused).toHaveBeenCalledTimes(2);
  } finally {
    refused.mockRestore();
  }
});
