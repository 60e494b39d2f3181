import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { CompiledRaster } from '../../src/report/figures/compiled-raster.js';
import { drawPlainly } from '../../src/report/figures/plain-raster.js';
import type { Pattern, Rgb } from '../../src/report/figures/raster-ink.js';
import type { Drawn, Projection, RasterPart, Row, Scene } from '../../src/report/figures/raster-samples.js';
import { box, cylinder, gridSphere, moved, ringVessel, together, tube } from '../mesh/shapes.js';

const FILE = fileURLToPath(new URL('../../dist/report/figures/raster.wasm', import.meta.url));

function program(): WebAssembly.Module {
  if (!existsSync(FILE)) throw new Error(`${FILE} is missing. Run: npm run build`);
  return new WebAssembly.Module(readFileSync(FILE));
}

/** One memory for all scenes, as in use: what one scene leaves behind must not show in the next. */
const compiled = new CompiledRaster(program());

const bytesOf = ({ buffer, byteOffset, byteLength }: Float32Array | Uint8Array): string =>
  Buffer.from(buffer, byteOffset, byteLength).toString('latin1');

function expectSame(scene: Scene): Drawn {
  const plain = drawPlainly(scene);
  const drawn = compiled.draw(scene);
  const place = ({ left, top, columns, rows, farthest }: Drawn): number[] => [
    left,
    top,
    columns,
    rows,
    farthest,
  ];
  expect(place(drawn)).toEqual(place(plain));
  expect(bytesOf(drawn.near) === bytesOf(plain.near)).toBe(true);
  expect(bytesOf(drawn.pixels) === bytesOf(plain.pixels)).toBe(true);
  const { near, pixels } = compiled.draw({ ...scene, keepsDepth: false });
  expect(near.length).toBe(0);
  expect(bytesOf(pixels) === bytesOf(plain.pixels)).toBe(true);
  return plain;
}

/** Numbers from 0 to 1, the same in every run. */
function numbersFrom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

const WIDTH = 90;
const HEIGHT = 70;
const BLUE: Rgb = [0, 114, 178];
const GREY: Rgb = [205, 205, 205];

/** Rotated about two axes, at this many pixels per mm. */
function turned(a: number, b: number, perMm: number): Projection {
  const [s, c, t, d] = [Math.sin(a), Math.cos(a), Math.sin(b), Math.cos(b)];
  const row = (x: number, y: number, z: number, offset: number): Row => [
    perMm * x,
    perMm * y,
    perMm * z,
    offset,
  ];
  return [row(c, s, 0, WIDTH / 2), row(-s * t, c * t, -d, HEIGHT / 2), row(s * d, -c * d, -t, 0)];
}

const sceneOf = (
  parts: RasterPart[],
  projection: Projection = turned(0.7, 0.4, 3),
  channels: 1 | 3 = 3,
): Scene => ({ parts, projection, width: WIDTH, height: HEIGHT, channels, keepsDepth: true });

const isShown = ({ near }: Drawn): boolean => near.some((value) => value > 0);

describe('compiled raster: same depths and pixels as the plain one, to the last bit', () => {
  it.each<[string, TriangleMesh]>([
    ['sphere', gridSphere(40, 10)],
    ['ring', ringVessel(60, 8, 12)],
    ['box', box(9, 7, 5, [-4, -3, -2])],
    ['tube', tube(24, 2, 19, 30)],
    ['boxes that share faces', together(box(4, 4, 4), box(4, 4, 4, [4, 0, 0]), box(4, 4, 4))],
    ['cylinder about one sample wide', moved(cylinder(64, 0.2, 10), [1, 2, -3])],
  ])('%s, from many sides, open and closed, in grey and in colour', (_, mesh) => {
    for (let k = 0; k < 12; k++) {
      const projection = turned(0.53 * k, 0.31 * k - 1, 0.7 + 0.4 * k);
      for (const isClosed of [false, true]) {
        expect(isShown(expectSame(sceneOf([{ mesh, colour: BLUE, isClosed }], projection)))).toBe(true);
        expectSame(sceneOf([{ mesh, colour: GREY, isClosed }], projection, 1));
      }
    }
  });

  it('parts that cross, with every pattern, one behind all others, pieces with shared vertices', () => {
    const patterns: Pattern[] = ['rising', 'falling', 'level', 'upright', 'dots'];
    const sphere = gridSphere(24, 6);
    const half = sphere.triangles.length / 6;
    const pieces = [sphere.triangles.subarray(0, 3 * half), sphere.triangles.subarray(3 * half)];
    const parts: RasterPart[] = [
      ...patterns.map((pattern, i) => ({
        mesh: moved(tube(16, 2, 14, 8), [3 * i - 6, i - 2, -7]),
        colour: [40 * i, 200 - 30 * i, 90] as const,
        pattern,
      })),
      { mesh: gridSphere(20, 12), colour: [236, 236, 236], isBehind: true },
      ...pieces.map((triangles, i) => ({
        mesh: { positions: sphere.positions, triangles },
        colour: [i * 99, 10, 60] as const,
      })),
      { mesh: { positions: new Float64Array(0), triangles: new Uint32Array(0) }, colour: BLUE },
    ];
    for (let k = 0; k < 8; k++) expectSame(sceneOf(parts, turned(0.8 * k, 0.5 * k, 1 + k)));
    expectSame(sceneOf(parts.slice(0, 1).map((part) => ({ ...part, isBehind: true }))));
  });

  it('many scattered triangles: small, long, flat, with repeated corners and equal heights', () => {
    for (let seed = 1; seed <= 60; seed++) {
      const next = numbersFrom(seed);
      // coarse steps produce equal coordinates, and corners at sample centres
      const step = [0.25, 1, 1e-3][seed % 3]!;
      const reach = [4, 20, 60][Math.floor(seed / 3) % 3]!;
      const points = 30 + Math.floor(60 * next());
      const positions = Float64Array.from(
        { length: 3 * points },
        () => step * Math.round((reach / step) * (next() - 0.5)),
      );
      const count = 20 + Math.floor(200 * next());
      const triangles = Uint32Array.from({ length: 3 * count }, () => Math.floor(points * next()));
      const mesh = { positions, triangles };
      const parts = [
        {
          mesh,
          colour: [next, next, next].map((n) => Math.floor(256 * n())) as [number, number, number],
          isClosed: seed % 4 === 0,
        },
        { mesh: moved(mesh, [1, 2, 3]), colour: GREY },
      ];
      expectSame(sceneOf(parts, seed % 2 ? turned(next(), next(), 2) : turned(0, Math.PI / 2, 1)));
    }
  });

  it('nothing, one triangle, outside the picture, larger than it', () => {
    expectSame(sceneOf([]));
    const one = {
      positions: Float64Array.from([0, 0, 0, 9, 1, 0, 2, 8, 4]),
      triangles: Uint32Array.of(0, 1, 2),
    };
    expectSame(sceneOf([{ mesh: one, colour: BLUE }]));
    expect(isShown(expectSame(sceneOf([{ mesh: moved(one, [900, 0, 0]), colour: BLUE }])))).toBe(false);
    expectSame(sceneOf([{ mesh: gridSphere(20, 10), colour: BLUE }], turned(1, 1, 400)));
    expectSame(sceneOf([{ mesh: gridSphere(20, 10), colour: BLUE }], turned(1, 1, 1e-7)));
  });

  it('coordinates that are infinite, NaN, or at the limits of doubles', () => {
    const odd = [Number.NaN, Infinity, -Infinity, 1e308, -1e308, 1e160, 1e-160, 5e-324, -0];
    for (let seed = 1; seed <= 80; seed++) {
      const next = numbersFrom(seed);
      const positions = Float64Array.from({ length: 90 }, () =>
        next() < 0.12 ? odd[Math.floor(odd.length * next())]! : 20 * (next() - 0.5),
      );
      const triangles = Uint32Array.from({ length: 180 }, () => Math.floor(30 * next()));
      const part = { mesh: { positions, triangles }, colour: BLUE };
      expectSame(
        sceneOf(
          [part],
          [
            [3, 0, 0, 45.25],
            [0, 3, 0, 35.25],
            [0, 0, 3, 0],
          ],
        ),
      );
      expectSame(sceneOf([part], turned(next(), next(), 3)));
    }
  });

  it('a depth step that is an edge in doubles but not in 32 bits', () => {
    // depths of samples: twice these; the nearer square is 8 + 2^-23 in front of its neighbour
    const there = 1 + 7 * 2 ** -23;
    const here = 9 + 2 ** -20;
    expect(Math.fround(here - there)).toBe(8);
    const square = (left: number, near: number): TriangleMesh => ({
      positions: Float64Array.from([0, 0, 0, 10, 0, 0, 0, 40, 0, 10, 40, 0], (value, i) =>
        i % 3 === 0 ? left + value : i % 3 === 2 ? (1 - near) / 2 : value,
      ),
      triangles: Uint32Array.of(0, 1, 2, 1, 3, 2),
    });
    // the farthest vertex: drawn by neither
    const farthest = { positions: Float64Array.of(0, 0, 0), triangles: new Uint32Array(0) };
    const mesh = together(square(10, here), square(20, there), farthest);
    const scene = sceneOf(
      [{ mesh, colour: BLUE }],
      [
        [1, 0, 0, 0],
        [0, 1, 0, 0],
        [0, 0, 1, 0],
      ],
    );
    const { near, pixels, left, top, columns } = expectSame(scene);
    const row = (20 - top) * columns - left;
    expect([near[row + 39], near[row + 40]]).toEqual([here, there]);
    const pixel = (x: number): number[] => {
      const at = 3 * (((20 - top) / 2) * (columns / 2) + x - left / 2);
      return [...pixels.subarray(at, at + 3)];
    };
    expect(pixel(19)).not.toEqual(pixel(18));
    expect(pixel(20)).toEqual(pixel(21));
  });
});
