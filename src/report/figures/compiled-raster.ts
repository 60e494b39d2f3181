import { compiledPart, enlarge, started, whereRoom } from '../../mesh/compiled-part.js';
import { inksOf, marksOf, PART_SHIFT } from './raster-ink.js';
import { type Drawn, type Scene, windowOf } from './raster-samples.js';

/** Exports of build/assembly/raster.ts. */
interface RasterExports {
  project(pointsAt: number, count: number, projectionAt: number, boundsAt: number): void;
  begin(
    left: number,
    top: number,
    columns: number,
    rows: number,
    farthest: number,
    nearAt: number,
    seenAt: number,
  ): void;
  leaveBehind(): void;
  drawPart(screenAt: number, trianglesAt: number, count: number, part: number, isClosed: boolean): void;
  drawOutlines(): void;
  mix(inksAt: number, parts: number, paintsAt: number): void;
  average(paintsAt: number, marksAt: number, pixelsAt: number, channels: number): void;
}

/** The memory begins with the bounds of all vertices and the projection; the meshes follow. */
const BOUNDS_AT = 0;
const PROJECTION_AT = 64;
const MESHES_AT = 160;

/** Coordinates and corners of a mesh, up to those of about 200,000 triangles: copying more costs memory. */
const MOST_COMPILED = 1_000_000;

let raster: CompiledRaster | undefined;

/** As `drawPlainly`, with the compiled program; undefined if it was not built or the scene is too large for it. */
export function drawCompiled(scene: Scene): Drawn | undefined {
  const module = compiledPart(new URL('./raster.wasm', import.meta.url));
  if (
    !module ||
    scene.parts.some(({ mesh }) => mesh.positions.length + mesh.triangles.length > MOST_COMPILED)
  )
    return undefined;
  return whereRoom(() => {
    raster ??= new CompiledRaster(module);
    return raster.draw(scene);
  });
}

/** Draws one scene after another in the same memory: each overwrites what the previous one left. */
export class CompiledRaster {
  private readonly memory = new WebAssembly.Memory({ initial: 1 });
  private readonly program: RasterExports;

  constructor(module: WebAssembly.Module) {
    this.program = started<RasterExports>(module, this.memory);
  }

  draw(scene: Scene): Drawn {
    const { parts, projection, channels, keepsDepth } = scene;
    const { program, memory } = this;
    let end = MESHES_AT;
    const room = (bytes: number): number => {
      const at = end;
      end = 16 * Math.ceil((end + bytes) / 16);
      return at;
    };
    const inks = Float64Array.from(parts.flatMap((part) => inksOf(part).flat()));
    const marks = marksOf(parts);
    // pieces of one surface share its vertices
    const screens = new Map<Float64Array, number>();
    for (const { mesh } of parts)
      if (!screens.has(mesh.positions)) screens.set(mesh.positions, room(mesh.positions.byteLength));
    const trianglesAt = room(parts.reduce((most, { mesh }) => Math.max(most, mesh.triangles.byteLength), 0));
    const inksAt = room(inks.byteLength);
    const paintsAt = room(4 * ((parts.length + 1) << (PART_SHIFT + 1)));
    const marksAt = room(marks.byteLength);
    enlarge(memory, end);
    const bounds = new Float64Array(memory.buffer, BOUNDS_AT, 5);
    bounds.set([Infinity, Infinity, -Infinity, -Infinity, -Infinity]);
    new Float64Array(memory.buffer, PROJECTION_AT, 12).set(projection.flat());
    for (const [positions, at] of screens) {
      new Float64Array(memory.buffer, at).set(positions);
      program.project(at, positions.length / 3, PROJECTION_AT, BOUNDS_AT);
    }
    const farthest = bounds[4]! + 1;
    const window = windowOf(bounds, scene);
    const { left, top, columns, rows } = window;
    const nearAt = room(4 * columns * rows);
    const seenAt = room(4 * columns * rows);
    const pixelsAt = room((channels * columns * rows) / 4);
    enlarge(memory, end);
    program.begin(left, top, columns, rows, farthest, nearAt, seenAt);
    const triangles = new Uint32Array(memory.buffer, trianglesAt);
    const draw = (isBehind: boolean): void => {
      for (const [i, part] of parts.entries()) {
        if ((part.isBehind ?? false) !== isBehind) continue;
        const { mesh, isClosed = false } = part;
        triangles.set(mesh.triangles);
        program.drawPart(
          screens.get(mesh.positions)!,
          trianglesAt,
          mesh.triangles.length / 3,
          i + 1,
          isClosed,
        );
      }
    };
    if (parts.some((part) => part.isBehind)) {
      draw(true);
      program.leaveBehind();
    }
    draw(false);
    program.drawOutlines();
    new Float64Array(memory.buffer, inksAt).set(inks);
    program.mix(inksAt, parts.length, paintsAt);
    new Uint8Array(memory.buffer, marksAt).set(marks);
    program.average(paintsAt, marksAt, pixelsAt, channels);
    const near = new Float32Array(memory.buffer, nearAt, keepsDepth ? columns * rows : 0).slice();
    const pixels = new Uint8Array(memory.buffer, pixelsAt, (channels * columns * rows) / 4).slice();
    return { ...window, near, farthest, channels, pixels };
  }
}
