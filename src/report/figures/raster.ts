import type { TriangleMesh } from '../../mesh/mesh.js';

/** A part to draw in one colour. */
interface RasterPart {
  mesh: TriangleMesh;
  /** Red, green, blue, 0..255. */
  colour: Rgb;
  pattern?: Pattern;
  /** Drawn behind all others, whatever its depth, and without outlines. */
  isBehind?: boolean;
  /** Closed and wound outward: the triangles that face away are then never visible and are left out. */
  isClosed?: boolean;
}

type Rgb = readonly [number, number, number];

/** Stripes (rising, falling, horizontal or vertical) or dots. */
export type Pattern = 'rising' | 'falling' | 'level' | 'upright' | 'dots';

/** Whether a sample is on a mark of the pattern. Patterns repeat every 16 samples, which are 8 pixels. */
const MARKS: Record<Pattern, (x: number, y: number) => boolean> = {
  rising: (x, y) => ((x + y) & 15) < 3,
  falling: (x, y) => ((x - y) & 15) < 3,
  level: (_, y) => (y & 15) < 3,
  upright: (x) => (x & 15) < 3,
  dots: (x, y) => ((x + (y & 8)) & 15) < 4 && (y & 7) < 4,
};

/** The colour at a sample (twice the pixel): dark colours are marked lighter, light ones darker. */
export function patterned(colour: Rgb, pattern: Pattern | undefined, x: number, y: number): Rgb {
  return pattern && MARKS[pattern](x, y) ? markColour(colour) : colour;
}

function markColour([r, g, b]: Rgb): Rgb {
  const dark = 0.3 * r + 0.59 * g + 0.11 * b < 140;
  const mark = (value: number): number => (dark ? value + 0.5 * (255 - value) : 0.6 * value);
  return [mark(r), mark(g), mark(b)];
}

/**
 * A parallel projection: three rows that map a point in mm to right and down on the screen (pixels) and distance from the viewer. Each
 * row is `[x, y, z, offset]`.
 */
export type Projection = readonly [Row, Row, Row];
type Row = readonly [number, number, number, number];

/** Each pixel averages a square of samples with this side. */
const SAMPLES = 2;

/** The rectangle of samples, in whole pixels, outside which nothing is drawn. */
interface Samples {
  /** First column and row, and how many. */
  left: number;
  top: number;
  columns: number;
  rows: number;
  /** How far in front of `farthest` the visible part lies; 0 where nothing is drawn, or only what is behind all others. */
  near: Float32Array;
  farthest: number;
  /** What is visible: the part's number from 1, an outline's bit and its light in `LIGHTS` steps; 0: nothing. */
  seen: Int32Array;
}

const LIGHTS = 127;
const OUTLINE = 128;
const PART_SHIFT = 8;

/** The part of a picture that is not white, one pixel at least. */
export interface Picture {
  /** Its first column and row, and its size. */
  left: number;
  top: number;
  width: number;
  height: number;
  /** 1 byte for each pixel if all parts are grey, otherwise 3; rows from the top. */
  channels: 1 | 3;
  pixels: Uint8Array;
  /**
   * The visible depth at a position in the whole picture (pixels), in terms of the projection's third row; infinite where nothing is
   * visible or outside the picture.
   */
  depthAt: (x: number, y: number) => number;
}

/**
 * Draws meshes with hidden surfaces removed (depth buffer), shading by the angle to the viewer and dark outlines,
 * on white. Linear in triangles plus covered samples.
 */
export function rasterise(
  parts: readonly RasterPart[],
  projection: Projection,
  width: number,
  height: number,
): Picture {
  // pieces of one surface share its vertices
  const screens = new Map<Float64Array, Float64Array>();
  for (const { mesh } of parts)
    if (!screens.has(mesh.positions)) screens.set(mesh.positions, onScreen(mesh, projection));
  const samples = samplesOf([...screens.values()], width * SAMPLES, height * SAMPLES);
  const { left, top, columns, rows, near, farthest } = samples;
  const draw = (isBehind: boolean): void => {
    for (const [i, part] of parts.entries())
      if ((part.isBehind ?? false) === isBehind)
        drawPart(part, i + 1, screens.get(part.mesh.positions)!, samples);
  };
  if (parts.some((part) => part.isBehind)) {
    draw(true);
    near.fill(0);
  }
  draw(false);
  drawOutlines(samples);
  const depthAt = (x: number, y: number): number => {
    const [i, j] = [Math.floor(SAMPLES * x) - left, Math.floor(SAMPLES * y) - top];
    const is = i >= 0 && j >= 0 && i < columns && j < rows ? near[j * columns + i]! : 0;
    return is === 0 ? Number.POSITIVE_INFINITY : (farthest - is) / SAMPLES;
  };
  const channels = parts.every(({ colour: [r, g, b] }) => r === g && g === b) ? 1 : 3;
  return {
    left: left / SAMPLES,
    top: top / SAMPLES,
    width: columns / SAMPLES,
    height: rows / SAMPLES,
    channels,
    pixels: averaged(samples, parts, channels),
    depthAt,
  };
}

/** The pixels of the whole picture, with its white margins. */
export function withMargins(picture: Picture, width: number, height: number): Uint8Array {
  const { left, top, channels, pixels } = picture;
  const line = channels * picture.width;
  const whole = new Uint8Array(channels * width * height).fill(255);
  for (let y = 0; y < picture.height; y++)
    whole.set(pixels.subarray(y * line, (y + 1) * line), channels * ((top + y) * width + left));
  return whole;
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

/** Allocates the samples that the vertices can cover in a picture of w x h samples, with a margin of one sample for the outlines. */
function samplesOf(screens: readonly Float64Array[], w: number, h: number): Samples {
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
  const whole = (value: number): number => SAMPLES * Math.floor(value / SAMPLES);
  let left = Math.max(0, whole(x0 - 2));
  let top = Math.max(0, whole(y0 - 2));
  let right = Math.min(w, whole(x1 + 2) + SAMPLES);
  let bottom = Math.min(h, whole(y1 + 2) + SAMPLES);
  if (!(left < right && top < bottom)) [left, top, right, bottom] = [0, 0, SAMPLES, SAMPLES];
  const [columns, rows] = [right - left, bottom - top];
  return {
    left,
    top,
    columns,
    rows,
    near: new Float32Array(columns * rows),
    farthest: z1 + 1,
    seen: new Int32Array(columns * rows),
  };
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
 * Row by row, between the edges on the left and on the right. Small functions: the engine compiles each of them once and early, a long one
 * again and again.
 */
function drawTriangle(
  screen: Float64Array,
  first: number,
  second: number,
  third: number,
  number: number,
  { left, top, columns, rows, near, farthest, seen }: Samples,
): void {
  // a is the highest corner, c the lowest: a shared edge is then cut at the same places in both of its triangles
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
  // by the cosine of the angle between triangle and screen: its projected area over its area
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

/** The first sample whose middle lies at a place or past it, within bounds. */
const sampleFrom = (place: number, low: number, high: number): number =>
  place < low ? low : place > high ? high : Math.ceil(place - 0.5) | 0;

/** Twice the area of a triangle on the screen: negative if it is seen from its front, as the rows of the picture run down. */
const twiceArea = (screen: Float64Array, a: number, b: number, c: number): number =>
  (screen[b]! - screen[a]!) * (screen[c + 1]! - screen[a + 1]!) -
  (screen[c]! - screen[a]!) * (screen[b + 1]! - screen[a + 1]!);

/** Depth step between neighbouring samples, in samples, from which the nearer one is an edge. */
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
function averaged(samples: Samples, parts: readonly RasterPart[], channels: 1 | 3): Uint8Array {
  const inks: Inks = { paints: paintsOf(parts), marks: marksOf(parts) };
  const { columns, rows } = samples;
  const line = (channels * columns) / SAMPLES;
  const pixels = new Uint8Array((line * rows) / SAMPLES).fill(255);
  for (let y = 0; y < rows; y += SAMPLES)
    averageRow(samples, y, inks, pixels.subarray((y / SAMPLES) * line, (y / SAMPLES + 1) * line), channels);
  return pixels;
}

interface Inks {
  /** The colour of every value of `Samples.seen`, off a mark of the pattern and on one. */
  paints: Int32Array;
  /** Whether a sample is on a mark of its part's pattern: 16 x 16 samples for each number, from 0. */
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
  const paints = new Int32Array((parts.length + 1) << (PART_SHIFT + 1)).fill(packed([255, 255, 255], 1));
  for (const [i, { colour, pattern }] of parts.entries()) {
    const inks = pattern ? [colour, markColour(colour)] : [colour];
    for (const [k, ink] of inks.entries()) {
      let at = ((i + 1) << (PART_SHIFT + 1)) + k;
      for (const darker of [1, 0.3])
        for (let light = 0; light <= LIGHTS; light++, at += 2)
          paints[at] = packed(ink, (darker * light) / LIGHTS);
    }
  }
  return paints;
}

function marksOf(parts: readonly RasterPart[]): Uint8Array {
  const marks = new Uint8Array((parts.length + 1) << 8);
  for (const [i, { pattern }] of parts.entries())
    for (let at = 0; pattern && at < 256; at++)
      marks[((i + 1) << 8) | at] = Number(MARKS[pattern](at & 15, at >> 4));
  return marks;
}
