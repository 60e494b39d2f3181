import type { TriangleMesh } from '../../mesh/mesh.js';
import { inksOf, LIGHTS, marksOf, OUTLINE, OUTLINE_LIGHT, PART_SHIFT, type Rgb } from './raster-ink.js';
import {
  type Drawn,
  type Projection,
  type RasterPart,
  type Row,
  SAMPLES,
  type Scene,
  type Window,
  windowOf,
} from './raster-samples.js';

/** The picture drawn so far. */
interface Samples extends Window {
  near: Float32Array;
  farthest: number;
  /** What is visible (`PART_SHIFT`); 0: nothing. */
  seen: Int32Array;
}

/** Draws a scene: the plain version of the compiled program. */
export function drawPlainly(scene: Scene): Drawn {
  const { parts, projection } = scene;
  // pieces of one surface share its vertices
  const screens = new Map<Float64Array, Float64Array>();
  for (const { mesh } of parts)
    if (!screens.has(mesh.positions)) screens.set(mesh.positions, onScreen(mesh, projection));
  const samples = samplesOf([...screens.values()], scene);
  const draw = (isBehind: boolean): void => {
    for (const [i, part] of parts.entries())
      if ((part.isBehind ?? false) === isBehind)
        drawPart(part, i + 1, screens.get(part.mesh.positions)!, samples);
  };
  if (parts.some((part) => part.isBehind)) {
    draw(true);
    samples.near.fill(0);
  }
  draw(false);
  drawOutlines(samples);
  return { ...samples, channels: scene.channels, pixels: averaged(samples, scene) };
}

/** Right, down and away of each vertex, in samples. */
function onScreen({ positions }: TriangleMesh, [right, down, away]: Projection): Float64Array {
  const screen = new Float64Array(positions.length);
  for (let i = 0; i + 2 < positions.length; i += 3) {
    screen[i] = SAMPLES * project(right, positions, i);
    screen[i + 1] = SAMPLES * project(down, positions, i);
    screen[i + 2] = SAMPLES * project(away, positions, i);
  }
  return screen;
}

const project = (row: Row, p: Float64Array, i: number): number =>
  row[0] * p[i]! + row[1] * p[i + 1]! + row[2] * p[i + 2]! + row[3];

/** Allocates the samples that the vertices can cover. */
function samplesOf(screens: readonly Float64Array[], scene: Scene): Samples {
  let [x0, y0, x1, y1, z1] = [Infinity, Infinity, -Infinity, -Infinity, -Infinity];
  for (const screen of screens) {
    for (let i = 0; i < screen.length; i += 3) {
      const x = screen[i]!;
      const y = screen[i + 1]!;
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
      if (screen[i + 2]! > z1) z1 = screen[i + 2]!;
    }
  }
  const window = windowOf([x0, y0, x1, y1], scene);
  const count = window.columns * window.rows;
  return { ...window, near: new Float32Array(count), farthest: z1 + 1, seen: new Int32Array(count) };
}

function drawPart(
  { mesh, isClosed = false }: RasterPart,
  number: number,
  screen: Float64Array,
  samples: Samples,
): void {
  const { triangles } = mesh;
  for (let t = 0; t + 2 < triangles.length; t += 3) {
    const a = 3 * triangles[t]!;
    const b = 3 * triangles[t + 1]!;
    const c = 3 * triangles[t + 2]!;
    if (isClosed && twiceArea(screen, a, b, c) > 0) continue;
    drawTriangle(screen, a, b, c, number, samples);
  }
}

/**
 * Row by row, between the left and the right edge. The functions are small because the engine compiles each of them once and early, but a
 * long one again and again.
 */
function drawTriangle(
  screen: Float64Array,
  first: number,
  second: number,
  third: number,
  number: number,
  { left, top, columns, rows, near, farthest, seen }: Samples,
): void {
  // a is the highest corner, c the lowest, so that a shared edge is cut at the same places in both of its triangles
  let a = first;
  let b = second;
  let c = third;
  if (screen[a + 1]! > screen[b + 1]!) [a, b] = [b, a];
  if (screen[b + 1]! > screen[c + 1]!) [b, c] = [c, b];
  if (screen[a + 1]! > screen[b + 1]!) [a, b] = [b, a];
  const ay = screen[a + 1]!;
  const by = screen[b + 1]!;
  const cy = screen[c + 1]!;
  const firstRow = sampleFrom(ay, top, top + rows);
  const lastRow = sampleFrom(cy, top, top + rows);
  const area = twiceArea(screen, a, b, c);
  if (firstRow === lastRow || area === 0 || !Number.isFinite(area)) return;
  const ax = screen[a]!;
  const bx = screen[b]!;
  const cx = screen[c]!;
  const az = screen[a + 2]!;
  const bz = screen[b + 2]! - az;
  const cz = screen[c + 2]! - az;
  const nx = bz * (cy - ay) - cz * (by - ay);
  const ny = cz * (bx - ax) - bz * (cx - ax);
  // lit by the cosine of the angle between triangle and screen: its projected area over its area
  const light = 0.3 + (0.7 * Math.abs(area)) / Math.sqrt(nx * nx + ny * ny + area * area);
  const paint = (number << PART_SHIFT) | (LIGHTS * light + 0.5);
  const nearPerColumn = -nx / area;
  const nearPerRow = -ny / area;
  const long = (cx - ax) / (cy - ay);
  const upper = (bx - ax) / (by - ay);
  const lower = (cx - bx) / (cy - by);
  const middleRow = sampleFrom(by, firstRow, lastRow);
  for (let y = firstRow; y < lastRow; y++) {
    const down = y + 0.5 - ay;
    const onLong = ax + down * long;
    // between the long edge and the upper one above the middle corner, and the lower one below it
    const onShort = y < middleRow ? ax + down * upper : bx + (y + 0.5 - by) * lower;
    const from = sampleFrom(area > 0 ? onLong : onShort, left, left + columns);
    const to = sampleFrom(area > 0 ? onShort : onLong, left, left + columns);
    const row = (y - top) * columns - left;
    const here = farthest - az + down * nearPerRow + (from + 0.5 - ax) * nearPerColumn;
    drawRow(near, seen, row + from, row + to, here, nearPerColumn, paint);
  }
}

function drawRow(
  near: Float32Array,
  seen: Int32Array,
  from: number,
  to: number,
  firstNear: number,
  nearPerColumn: number,
  paint: number,
): void {
  let here = firstNear;
  for (let at = from; at < to; at++) {
    const value = Math.fround(here);
    if (value > near[at]!) {
      near[at] = value;
      seen[at] = paint;
    }
    here += nearPerColumn;
  }
}

/** The first sample whose middle is at or past a position, within bounds. */
const sampleFrom = (place: number, low: number, high: number): number =>
  place > low ? (place < high ? Math.ceil(place - 0.5) | 0 : high) : low;

/** Twice the area of a triangle on the screen: negative if it is seen from its front, as the rows of the picture run down. */
const twiceArea = (screen: Float64Array, a: number, b: number, c: number): number =>
  (screen[b]! - screen[a]!) * (screen[c + 1]! - screen[a + 1]!) -
  (screen[c]! - screen[a]!) * (screen[b + 1]! - screen[a + 1]!);

/** From this depth step between neighbouring samples, in samples, the nearer one is an edge. */
const EDGE_STEP = 8;

/** Marks the nearer of two neighbours where parts meet or the depth jumps, so that outlines survive grey printing. */
function drawOutlines({ columns, rows, near, seen }: Samples): void {
  for (let y = 1; y + 1 < rows; y++) outlineRow(near, seen, y * columns + 1, (y + 1) * columns - 1, columns);
}

function outlineRow(near: Float32Array, seen: Int32Array, from: number, to: number, columns: number): void {
  for (let at = from; at < to; at++) {
    const mine = seen[at]!;
    if (mine === 0) continue;
    const here = near[at]!;
    if (
      isEdge(mine, here, seen[at + 1]!, near[at + 1]!) ||
      isEdge(mine, here, seen[at + columns]!, near[at + columns]!) ||
      isEdge(mine, here, seen[at - 1]!, near[at - 1]!) ||
      isEdge(mine, here, seen[at - columns]!, near[at - columns]!)
    )
      seen[at] = mine | OUTLINE;
  }
}

const isEdge = (mine: number, here: number, other: number, there: number): boolean =>
  here > there && ((mine ^ other) >> PART_SHIFT !== 0 || here - there > EDGE_STEP);

/** The mean of each pixel's samples, two by two: white if all are empty. */
function averaged(samples: Samples, { parts, channels }: Scene): Uint8Array {
  const inks: Inks = { paints: paintsOf(parts), marks: marksOf(parts) };
  const { columns, rows } = samples;
  const line = (channels * columns) / SAMPLES;
  const pixels = new Uint8Array((line * rows) / SAMPLES).fill(255);
  for (let y = 0; y < rows; y += SAMPLES)
    averageRow(samples, y, inks, pixels.subarray((y / SAMPLES) * line, (y / SAMPLES + 1) * line), channels);
  return pixels;
}

interface Inks {
  /** The colours of everything that a sample can show, off a mark of the pattern and on one. */
  paints: Int32Array;
  marks: Uint8Array;
}

function averageRow(
  { left, top, columns, seen }: Samples,
  y: number,
  { paints, marks }: Inks,
  pixels: Uint8Array,
  channels: 1 | 3,
): void {
  const line = ((top + y) & 15) << 4;
  let to = 0;
  for (let x = 0; x < columns; x += SAMPLES, to += channels) {
    const at = y * columns + x;
    const a = seen[at]!;
    const b = seen[at + 1]!;
    const c = seen[at + columns]!;
    const d = seen[at + columns + 1]!;
    if ((a | b | c | d) === 0) continue;
    const mark = line | ((left + x) & 15);
    const sum =
      paints[2 * a + marks[((a >> PART_SHIFT) << 8) | mark]!]! +
      paints[2 * b + marks[((b >> PART_SHIFT) << 8) | (mark + 1)]!]! +
      paints[2 * c + marks[((c >> PART_SHIFT) << 8) | (mark + 16)]!]! +
      paints[2 * d + marks[((d >> PART_SHIFT) << 8) | (mark + 17)]!]!;
    pixels[to] = ((sum >> 20) + 2) >> 2;
    if (channels === 1) continue;
    pixels[to + 1] = (((sum >> 10) & 1023) + 2) >> 2;
    pixels[to + 2] = ((sum & 1023) + 2) >> 2;
  }
}

/** Ten bits for each of red, green and blue, so that the sum of four fits. */
const packed = ([red, green, blue]: Rgb, light: number): number =>
  (Math.round(light * red) << 20) | (Math.round(light * green) << 10) | Math.round(light * blue);

function paintsOf(parts: readonly RasterPart[]): Int32Array {
  const paints = new Int32Array((parts.length + 1) << (PART_SHIFT + 1));
  paints[0] = packed([255, 255, 255], 1);
  for (const [i, part] of parts.entries()) {
    for (const [k, ink] of inksOf(part).entries()) {
      let at = ((i + 1) << (PART_SHIFT + 1)) + k;
      for (const darker of [1, OUTLINE_LIGHT])
        for (let light = 0; light <= LIGHTS; light++, at += 2)
          paints[at] = packed(ink, (darker * light) / LIGHTS);
    }
  }
  return paints;
}
