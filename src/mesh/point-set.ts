import { PAGE_BYTES, started, whereRoom } from './compiled-part.js';
import { type PassProgram, passProgram } from './mesh-passes.js';

/** The smallest and the largest height of points along a direction, and the numbers of the first points that have them. */
export interface Extent {
  least: number;
  greatest: number;
  low: number;
  high: number;
}

/** For fewer points the compiled version saves less time than setting up its memory costs; for more, its copy costs memory. */
const LEAST_COMPILED = 50;
const MOST_COMPILED = 200_000;

const POINT_BYTES = 24;
const HEAD_BYTES = 64;

/** Points whose extent along many directions is needed. */
export class PointSet {
  /** x0 y0 z0 x1 ..., mm; must not be changed. */
  readonly positions: Float64Array;
  readonly extent: (x: number, y: number, z: number) => Extent;

  constructor(positions: Float64Array, module = passProgram()) {
    this.positions = positions;
    this.extent = compiledExtent(positions, module) ?? ((x, y, z) => plainExtent(positions, x, y, z));
  }
}

export function plainExtent(positions: Float64Array, x: number, y: number, z: number): Extent {
  let low = 0;
  let high = 0;
  let least = Infinity;
  let greatest = -Infinity;
  for (let p = 0; p < positions.length; p += 3) {
    const d = positions[p] * x + positions[p + 1] * y + positions[p + 2] * z;
    if (d < least) {
      least = d;
      low = p / 3;
    }
    if (d > greatest) {
      greatest = d;
      high = p / 3;
    }
  }
  return { least, greatest, low, high };
}

function compiledExtent(
  positions: Float64Array,
  module: WebAssembly.Module | undefined,
): PointSet['extent'] | undefined {
  const count = positions.length / 3;
  if (!module || count < LEAST_COMPILED || count > MOST_COMPILED) return undefined;
  return whereRoom(() => {
    const pages = Math.ceil((HEAD_BYTES + POINT_BYTES * count) / PAGE_BYTES);
    const memory = new WebAssembly.Memory({ initial: pages });
    const program = started<PassProgram>(module, memory);
    new Float64Array(memory.buffer, HEAD_BYTES, positions.length).set(positions);
    const heights = new Float64Array(memory.buffer, 0, 2);
    const numbers = new Uint32Array(memory.buffer, 16, 2);
    return (x, y, z) => {
      program.extent(HEAD_BYTES, count, x, y, z, 0);
      return { least: heights[0], greatest: heights[1], low: numbers[0], high: numbers[1] };
    };
  });
}
