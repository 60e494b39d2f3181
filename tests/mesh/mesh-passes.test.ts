import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { normalize, type Vec3 } from '../../src/foundation/vector.js';
import { ByteText } from '../../src/mesh/byte-text.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { type MeshPasses, passesOver } from '../../src/mesh/mesh-passes.js';
import { PointSet, plainExtent } from '../../src/mesh/point-set.js';
import { writePlainly } from '../../src/mesh/write-3mf.js';
import { plainStl } from '../../src/mesh/write-stl.js';
import { randomStream } from '../../src/phantoms/random.js';
import { plainOverhangs } from '../../src/print/build-space.js';
import { plainSlivers } from '../../src/print/flip-slivers.js';
import { box, cylinder, gridSphere, moved, ringVessel, together, tube } from './shapes.js';

// The compiled passes give the same as the plain ones, to the last bit, including for triangles without area, zeros of both
// signs, unused vertices and NaN coordinates.

const FILE = fileURLToPath(new URL('../../dist/mesh/mesh-passes.wasm', import.meta.url));
if (!existsSync(FILE)) throw new Error(`${FILE} is missing. Run: npm run build`);
const program = new WebAssembly.Module(readFileSync(FILE));

/**
 * Triangles between random vertices: crossing, flat, or with a repeated corner; some coordinates are rounded, to 0 and -0
 * too.
 */
function soup(seed: number, vertices: number, count: number): TriangleMesh {
  const random = randomStream(seed);
  const positions = Float64Array.from({ length: 3 * vertices }, (_, i) => {
    const x = 6 * (random.next() - 0.5);
    return i % 2 === 0 ? Math.round(x) : x;
  });
  const triangles = Uint32Array.from({ length: 3 * count }, () => Math.floor(random.next() * vertices));
  return { positions, triangles };
}

const nowhere = (mesh: TriangleMesh): TriangleMesh => {
  const positions = mesh.positions.slice();
  for (let i = 7; i < positions.length; i += 50)
    positions[i] = [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY][i % 3];
  return { positions, triangles: mesh.triangles };
};

const MESHES: [string, TriangleMesh][] = [
  ['a sphere', gridSphere(24, 10)],
  ['a tube far from the origin', moved(tube(30, 3, 25), [900.3, -500.7, 80.1])],
  ['a vessel of rings', ringVessel(16, 3, 12)],
  ['several bodies', together(box(4, 5, 6), gridSphere(12, 3), cylinder(12, 2, 9))],
  ...[1, 2, 3, 4].map((seed): [string, TriangleMesh] => [`a soup, seed ${seed}`, soup(seed, 40 * seed, 150)]),
  ['places that are none', nowhere(gridSphere(16, 5))],
  ['many more triangles than vertices', soup(9, 12, 3000)],
];

const DIRECTIONS: Vec3[] = [[0, 0, 1], [0, 0, -1], [1, 0, 0], [0, -1, 0], normalize([0.3, -0.7, 0.2])];

/** As written to a file: 32-bit coordinates. */
const printed = (mesh: TriangleMesh): TriangleMesh => ({
  positions: new Float64Array(new Float32Array(mesh.positions)),
  triangles: mesh.triangles,
});

for (const [name, mesh] of MESHES.filter(([, { positions }]) => positions.every(Number.isFinite)))
  it(`files of ${name} are the same from compiled and plain code`, () => {
    for (const one of [mesh, printed(mesh)]) {
      expect(Buffer.compare(passesOver(one, program)!.stl(), plainStl(one))).toBe(0);
      const elements = passesOver(one, program)!.elements();
      if (!elements) continue;
      const plain = new ByteText();
      writePlainly(one, 5, plain);
      const compiled = new ByteText().text('<vertices>\n').add(elements.vertices);
      compiled.text('</vertices>\n<triangles>\n').add(elements.triangles).text('</triangles>\n');
      expect(Buffer.compare(compiled.written(), plain.written())).toBe(0);
    }
  });

it('the compiled program writes a print, but not meshes with other than 32-bit coordinates', () => {
  const sphere = gridSphere(24, 10);
  expect(passesOver(printed(sphere), program)!.elements()).toBeDefined();
  expect(passesOver(sphere, program)!.elements()).toBeUndefined();
  const far = { positions: sphere.positions.map((x) => Math.fround(x + 2e4)), triangles: sphere.triangles };
  expect(passesOver(far, program)!.elements()).toBeUndefined();
});

it('coordinates of every length and sign are written like the plain version writes them', () => {
  const random = randomStream(31);
  for (let n = 0; n < 40; n++) {
    const positions = Float64Array.from({ length: 300 }, () => {
      const size = 2 ** Math.floor(30 * random.next() - 16);
      const x = Math.fround(size * (random.next() - 0.5));
      // halves of the last decimal, whole numbers and zeros of both signs among them
      return random.next() < 0.3 ? Math.round(x * 32) / 32 : x;
    });
    const triangles = Uint32Array.from({ length: 180 }, () => Math.floor(100 * random.next()));
    const elements = passesOver({ positions, triangles }, program)!.elements()!;
    const plain = new ByteText();
    writePlainly({ positions, triangles }, 5, plain);
    const rows = new TextDecoder().decode(plain.written()).split('</vertices>\n<triangles>\n');
    expect(`<vertices>\n${new TextDecoder().decode(elements.vertices)}`).toBe(rows[0]);
    expect(`${new TextDecoder().decode(elements.triangles)}</triangles>\n`).toBe(rows[1]);
  }
});

for (const [name, mesh] of MESHES)
  it(`passes over ${name} give the same in compiled and plain code`, () => {
    const passes = (): MeshPasses => passesOver(mesh, program)!;
    for (const ratio of [1e-4, 0.1, 0.7]) expect(passes().slivers(ratio)).toEqual(plainSlivers(mesh, ratio));
    for (const up of DIRECTIONS) {
      const { least, greatest } = plainExtent(mesh.positions, ...up);
      expect([...passes().extent(...up)]).toEqual([least, greatest]);
      for (const [steep, bed] of [
        [0.7, -4],
        [0, 1],
        [1, Number.NEGATIVE_INFINITY],
      ])
        expect([...passes().overhangs(...up, steep, bed)]).toEqual([...plainOverhangs(mesh, up, steep, bed)]);
      expect(new PointSet(mesh.positions, program).extent(...up)).toEqual(plainExtent(mesh.positions, ...up));
    }
  });

it('a sphere has slivers and overhangs to compare', () => {
  const sphere = gridSphere(24, 10);
  expect(plainSlivers(sphere, 0.7).length).toBeGreaterThan(10);
  expect(plainOverhangs(sphere, [0, 0, 1], 0.7, -20).length).toBeGreaterThan(50);
});

it('passes over a mesh do not depend on earlier meshes', () => {
  const first = gridSphere(40, 8);
  const second = tube(12, 2, 9);
  const alone = passesOver(second, program)!.slivers(0.9);
  passesOver(first, program)!.overhangs(0, 0, 1, 0, Number.NEGATIVE_INFINITY);
  expect(passesOver(second, program)!.slivers(0.9)).toEqual(alone);
});

it('uses only the plain versions without a program, for few triangles, and for a part that has all positions of a large mesh', () => {
  const sphere = gridSphere(24, 10);
  expect(passesOver(sphere, undefined)).toBeUndefined();
  expect(passesOver(box(1, 1, 1), program)).toBeUndefined();
  const part = { positions: sphere.positions, triangles: sphere.triangles.slice(0, 180) };
  expect(passesOver(part, program)).toBeUndefined();
});
