import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mulberry32 } from '../../src/foundation/mulberry32.js';
import { pairPlainly } from '../../src/mesh/edge-pairing.js';
import { inOrderPlainly } from '../../src/mesh/in-order-of-use.js';
import { boxPlainly, measurePlainly } from '../../src/mesh/measures.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { MeshKernel } from '../../src/mesh/mesh-kernel.js';
import { signsPlainly, volumesPlainly } from '../../src/mesh/orient.js';
import { degeneratePlainly, pinchedPlainly } from '../../src/mesh/topology.js';
import { isFreePlainly, joinPlainly } from '../../src/mesh/weld.js';
import { crowdingPlainly } from '../../src/mesh/winding-field.js';
import { areApartPlainly } from '../../src/mesh/write-3mf.js';
import { onGridPlainly } from '../../src/page/quantise.js';
import {
  box,
  gridSphere,
  meshOf,
  moved,
  ringVessel,
  soupOf,
  together,
  tube,
  turnedOver,
  without,
} from './shapes.js';

const FILE = fileURLToPath(new URL('../../dist/mesh/topology.wasm', import.meta.url));

function kernel(): MeshKernel {
  if (!existsSync(FILE)) throw new Error(`${FILE} is missing. Run: npm run build`);
  return new MeshKernel(new WebAssembly.Module(readFileSync(FILE)));
}

/** A triangle flatter than this counts as degenerate here: many do. */
const LIMIT = 1e-3;

/** Of all vertices: whole steps of 2 and of one half lie between it and the coordinates. */
function lowCorner({ positions }: TriangleMesh): [number, number, number] {
  const [x, y, z] = boxPlainly({ positions, triangles: new Uint32Array() });
  return [x, y, z];
}

/** The result of the plain code for a mesh. */
function plainly(mesh: TriangleMesh) {
  const pairing = pairPlainly(mesh);
  const { sign, oneSidedEdges } = signsPlainly(mesh.triangles, pairing.twin);
  return {
    joined: joinPlainly(mesh),
    pairing,
    isFree: isFreePlainly(pairing.twin),
    degenerate: degeneratePlainly(mesh, LIMIT),
    pinched: pinchedPlainly(mesh, pairing.twin),
    sign,
    oneSidedEdges,
    volumes: volumesPlainly(mesh, sign, pairing, [0.1, -0.2, 1e3]),
    box: [...boxPlainly(mesh)],
    measures: [...measurePlainly(mesh, [0.3, 7, -1e-3])],
    crowding: crowdingPlainly(mesh),
    inOrder: inOrderPlainly(mesh),
    onGrid: onGridPlainly(mesh.positions, lowCorner(mesh), 2),
  };
}

/** The same from the compiled program, in memory that other meshes may have used before. */
function compiled(k: MeshKernel, mesh: TriangleMesh): ReturnType<typeof plainly> {
  expect(k.holds(mesh.positions.length / 3, mesh.triangles.length / 3)).toBe(true);
  const pairing = k.pairEdges(mesh);
  const { sign, oneSidedEdges } = k.agreedSigns(mesh.triangles, pairing.twin);
  return {
    joined: k.join(mesh),
    pairing,
    isFree: k.isFreeOfCopies(pairing.twin),
    degenerate: k.degenerateTriangles(mesh, LIMIT),
    pinched: k.pinchedVertices(mesh, pairing.twin),
    sign,
    oneSidedEdges,
    volumes: k.componentVolumes(mesh, sign, pairing, [0.1, -0.2, 1e3]),
    box: [...k.box(mesh)],
    measures: [...k.measure(mesh, [0.3, 7, -1e-3])],
    crowding: k.crowding(mesh),
    inOrder: k.inOrderOfUse(mesh),
    onGrid: k.onGrid(mesh.positions, lowCorner(mesh), 2),
  };
}

/** A band of triangles with one twist before its ends meet. */
const moebius: TriangleMesh = meshOf(
  Array.from({ length: 11 }, (_, i) => [Math.cos(i), Math.sin(i), 0.3 * i]),
  Array.from({ length: 11 }, (_, i) => [i, (i + 1) % 11, (i + 2) % 11]),
);

const empty = { positions: new Float64Array(0), triangles: new Uint32Array(0) };

const shapes: [string, TriangleMesh][] = [
  ['empty', empty],
  ['points without triangles', { ...box(1, 2, 3), triangles: new Uint32Array(0) }],
  ['sphere', gridSphere(40, 10)],
  [
    'sphere with holes, some triangles flipped',
    turnedOver(without(gridSphere(24, 5), 3, 4, 100, 200), 7, 50, 51, 300),
  ],
  ['ring', ringVessel(60, 3, 12)],
  ['triangle soup', soupOf(tube(24, 2, 9, 30))],
  ['boxes that share an edge and two corners', together(box(1, 1, 1), box(1, 1, 1, [1, 1, 0]))],
  [
    'three such boxes, joined',
    joinPlainly(together(box(1, 1, 1), box(1, 1, 1, [1, 1, 0]), box(1, 1, 1, [2, 2, 1]))).mesh,
  ],
  ['every triangle duplicated', joinPlainly(together(box(2, 2, 2), box(2, 2, 2))).mesh],
  ['Möbius band', moebius],
  ['far from the origin', moved(gridSphere(30, 2), [9e5, -9e5, 9e5])],
];

describe('topology of a mesh', () => {
  it.each(shapes)('%s: the compiled program gives the same as the plain code, to the last bit', (_, mesh) => {
    expect(compiled(kernel(), mesh)).toEqual(plainly(mesh));
  });

  it('the band has edges across which no orientation is consistent', () => {
    expect(plainly(moebius).oneSidedEdges.length).toBeGreaterThan(0);
  });

  it('memory that held another mesh gives the same', () => {
    const k = kernel();
    for (const [, mesh] of [...shapes, ...[...shapes].reverse()])
      expect(compiled(k, mesh)).toEqual(plainly(mesh));
  });

  it('any triangles on few points, including coordinates that are zero, equal, huge or NaN', () => {
    const draw = mulberry32(23);
    const upTo = (most: number): number => Math.floor(draw() * (most + 1));
    const often = [0, -0, 1, 1];
    const rarely = [
      -1,
      0.1,
      2.5,
      1e-300,
      1e300,
      Number.NaN,
      Number.POSITIVE_INFINITY,
      Number.NEGATIVE_INFINITY,
    ];
    const value = (): number => {
      const kind = draw();
      if (kind < 0.6) return often[upTo(often.length - 1)];
      return kind < 0.97 ? 100 * draw() - 50 : rarely[upTo(rarely.length - 1)];
    };
    const k = kernel();
    const seen = { shared: 0, pinched: 0, degenerate: 0, merged: 0, turned: 0 };
    for (let run = 0; run < 600; run++) {
      const vertices = 3 + upTo(11);
      const mesh = {
        positions: Float64Array.from({ length: 3 * vertices }, value),
        triangles: Uint32Array.from({ length: 3 * upTo(40) }, () => upTo(vertices - 1)),
      };
      const plain = plainly(mesh);
      expect(compiled(k, mesh)).toEqual(plain);
      seen.shared += plain.pairing.nonManifoldEdges.length;
      seen.pinched += plain.pinched.length;
      seen.degenerate += plain.degenerate.length;
      seen.merged += plain.joined.used - plain.joined.mesh.positions.length / 3;
      seen.turned += Number(!plain.pairing.isConsistent);
    }
    for (const count of Object.values(seen)) expect(count).toBeGreaterThan(100);
  });

  it('a closed surface with some triangles omitted, flipped or duplicated', () => {
    const whole = gridSphere(8, 3);
    const some = fc.array(fc.integer({ min: 0, max: whole.triangles.length / 3 - 1 }), { maxLength: 3 });
    const k = kernel();
    let free = 0;
    fc.assert(
      fc.property(some, some, some, (dropped, turned, doubled) => {
        const mesh = turnedOver(without(whole, ...dropped), ...turned.map((t) => t % 80));
        const copies = doubled.flatMap((t) => [...whole.triangles.subarray(3 * t, 3 * t + 3)]);
        const damaged = { ...mesh, triangles: Uint32Array.from([...mesh.triangles, ...copies]) };
        const plain = plainly(damaged);
        expect(compiled(k, damaged)).toEqual(plain);
        free += Number(plain.isFree);
      }),
      { seed: 5, numRuns: 200 },
    );
    expect(free).toBeGreaterThan(20);
    expect(free).toBeLessThan(180);
  });

  it('vertices that five digits tell apart, including near the halves of the last digit', () => {
    const draw = mulberry32(41);
    const k = kernel();
    const counts = new Map<boolean | undefined, number>();
    for (let run = 0; run < 600; run++) {
      // halves of the last digit, in a range so small that texts coincide
      const value = (): number => Math.fround((Math.floor(16 * draw() - 8) / 2) * 1e-5);
      const positions = Float64Array.from({ length: 3 * Math.floor(30 * draw()) }, value);
      if (run % 5 === 0 && positions.length > 0)
        positions[0] = [0.1, 20_000, -1e9, Number.NaN, -19_999.5][(run / 5) % 5];
      const found = k.areApart(positions);
      counts.set(found, 1 + (counts.get(found) ?? 0));
      if (found !== undefined) expect(found).toBe(areApartPlainly(positions, 5));
    }
    for (const answer of [true, false, undefined]) expect(counts.get(answer)).toBeGreaterThan(50);
  });

  it('reports a mesh too large for any memory, and continues with others', () => {
    const k = kernel();
    expect(k.holds(1e9, 1e9)).toBe(false);
    expect(compiled(k, box(1, 2, 3))).toEqual(plainly(box(1, 2, 3)));
  });
});
