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
  /** Infinite where nothing is drawn, or only what is behind all others. */
  depth: Float32Array;
  /** What is visible: the part's number from 1, an outline's bit and its light in `LIGHTS` steps; 0: nothing. */
  seen: Int32Array;
}

const LIGHTS = 255;
const OUTLINE = 256;
const PART_SHIFT = 9;

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
  const { left, top, columns, rows, depth } = samples;
  const draw = (isBehind: boolean): void => {
    for (const [i, part] of parts.entries())
      if ((part.isBehind ?? false) === isBehind)
        drawPart(part, i + 1, screens.get(part.mesh.positions)!, samples);
  };
  if (parts.some((part) => part.isBehind)) {
    draw(true);
    depth.fill(Number.POSITIVE_INFINITY);
  }
  draw(false);
  drawOutlines(samples);
  const depthAt = (x: number, y: number): number => {
    const [i, j] = [Math.floor(SAMPLES * x) - left, Math.floor(SAMPLES * y) - top];
    return i >= 0 && j >= 0 && i < columns && j < rows
      ? depth[j * columns + i]! / SAMPLES
      : Number.POSITIVE_INFINITY;
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
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const screen of screens) {
    for (let i = 0; i < screen.length; i += 3) {
      const x = screen[i]!;
      const y = screen[i + 1]!;
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
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
    depth: new Float32Array(columns * rows).fill(Number.POSITIVE_INFINITY),
    seen: new Int32Array(columns * rows),
  };
}

/** Row by row, between the edges on the left and on the right. */
function drawPart(
  { mesh, isClosed = false }: RasterPart,
  number: number,
  screen: Float64Array,
  { left, top, columns, rows, depth, seen }: Samples,
): void {
  const { triangles } = mesh;
  const [right, bottom] = [left + columns, top + rows];
  for (let t = 0; t + 2 < triangles.length; t += 3) {
    let a = 3 * triangles[t]!;
    let b = 3 * triangles[t + 1]!;
    let c = 3 * triangles[t + 2]!;
    if (isClosed && twiceArea(screen, a, b, c) > 0) continue;
    // a is the highest corner, c the lowest: a shared edge is then cut at the same places in both of its triangles
    if (screen[a + 1]! > screen[b + 1]!) [a, b] = [b, a];
    if (screen[b + 1]! > screen[c + 1]!) [b, c] = [c, b];
    if (screen[a + 1]! > screen[b + 1]!) [a, b] = [b, a];
    const ay = screen[a + 1]!;
    const by = screen[b + 1]!;
    const cy = screen[c + 1]!;
    const y0 = Math.max(top, Math.ceil(ay - 0.5));
    const y1 = Math.min(bottom, Math.floor(cy + 0.5));
    if (!(y0 < y1)) continue;
    const area = twiceArea(screen, a, b, c);
    if (area === 0 || !Number.isFinite(area)) continue;
    const ax = screen[a]!;
    const bx = screen[b]!;
    const cx = screen[c]!;
    const az = screen[a + 2]!;
    const bz = screen[b + 2]! - az;
    const cz = screen[c + 2]! - az;
    // depth for each sample to the right and down
    const zx = (bz * (cy - ay) - cz * (by - ay)) / area;
    const zy = (cz * (bx - ax) - bz * (cx - ax)) / area;
    // by the cosine of the angle between the triangle and the screen
    const light = 0.3 + 0.7 / Math.sqrt(1 + zx * zx + zy * zy);
    const paint = (number << PART_SHIFT) | Math.round(LIGHTS * light);
    const long = (cx - ax) / (cy - ay);
    const upper = (bx - ax) / (by - ay);
    const lower = (cx - bx) / (cy - by);
    for (let y = y0; y < y1; y++) {
      const py = y + 0.5;
      const one = ax + (py - ay) * long;
      const other = py < by || by === cy ? ax + (py - ay) * upper : bx + (py - by) * lower;
      const x0 = Math.max(left, Math.ceil(Math.min(one, other) - 0.5));
      const x1 = Math.min(right, Math.floor(Math.max(one, other) + 0.5));
      const row = (y - top) * columns - left;
      const start = az + (py - ay) * zy + (0.5 - ax) * zx;
      for (let x = x0; x < x1; x++) {
        const z = Math.fround(start + x * zx);
        if (z >= depth[row + x]!) continue;
        depth[row + x] = z;
        seen[row + x] = paint;
      }
    }
  }
}

/** Twice the area of a triangle on the screen: negative if it is seen from its front, as the rows of the picture run down. */
const twiceArea = (screen: Float64Array, a: number, b: number, c: number): number =>
  (screen[b]! - screen[a]!) * (screen[c + 1]! - screen[a + 1]!) -
  (screen[c]! - screen[a]!) * (screen[b + 1]! - screen[a + 1]!);

/** Depth step between neighbouring samples, in samples, from which the nearer one is an edge. */
const EDGE_STEP = 8;

/** Marks the nearer of two neighbours where parts meet or the depth jumps, so that outlines survive grey printing. */
function drawOutlines({ columns, rows, depth, seen }: Samples): void {
  for (let y = 0; y < rows; y++) {
    const end = (y + 1) * columns;
    for (let at = y * columns; at < end; at++) {
      if (at + 1 < end) outline(at, at + 1, depth, seen);
      if (y + 1 < rows) outline(at, at + columns, depth, seen);
    }
  }
}

function outline(a: number, b: number, depth: Float32Array, seen: Int32Array): void {
  const mine = seen[a]!;
  const other = seen[b]!;
  // most of a picture is empty
  if ((mine | other) === 0) return;
  const step = depth[a]! - depth[b]!;
  if (mine >> PART_SHIFT === other >> PART_SHIFT && !(Math.abs(step) > EDGE_STEP)) return;
  const nearer = step > 0 ? b : a;
  if (depth[nearer]! < Number.POSITIVE_INFINITY) seen[nearer]! |= OUTLINE;
}

/** The mean of each pixel's samples: white if all are empty. */
function averaged(
  { left, top, columns, rows, seen }: Samples,
  parts: readonly RasterPart[],
  channels: 1 | 3,
): Uint8Array {
  const { inks, marks } = inksOf(parts);
  const pixels = new Uint8Array((channels * columns * rows) / SAMPLES ** 2).fill(255);
  const share = 1 / (LIGHTS * SAMPLES ** 2);
  let to = 0;
  for (let y = 0; y < rows; y += SAMPLES) {
    for (let x = 0; x < columns; x += SAMPLES, to += channels) {
      const from = y * columns + x;
      if ((seen[from]! | seen[from + 1]! | seen[from + columns]! | seen[from + columns + 1]!) === 0) continue;
      let red = 0;
      let green = 0;
      let blue = 0;
      for (let j = 0; j < SAMPLES; j++) {
        for (let i = 0; i < SAMPLES; i++) {
          const one = seen[from + j * columns + i]!;
          const number = one >> PART_SHIFT;
          const mark = marks[(number << 8) | (((top + y + j) & 15) << 4) | ((left + x + i) & 15)]!;
          const ink = 6 * number + 3 * mark;
          const full = one & LIGHTS || LIGHTS;
          const light = one & OUTLINE ? 0.3 * full : full;
          red += light * inks[ink]!;
          green += light * inks[ink + 1]!;
          blue += light * inks[ink + 2]!;
        }
      }
      pixels[to] = Math.round(share * red);
      if (channels === 1) continue;
      pixels[to + 1] = Math.round(share * green);
      pixels[to + 2] = Math.round(share * blue);
    }
  }
  return pixels;
}

/** By number of the part: its colour and that of its marks, and the table of its pattern; number 0 is white. */
function inksOf(parts: readonly RasterPart[]): { inks: Float64Array; marks: Uint8Array } {
  const inks = new Float64Array(6 * (parts.length + 1)).fill(255);
  const marks = new Uint8Array(256 * (parts.length + 1));
  for (const [i, { colour, pattern }] of parts.entries()) {
    inks.set([...colour, ...markColour(colour)], 6 * (i + 1));
    if (pattern)
      for (let at = 0; at < 256; at++) marks[256 * (i + 1) + at] = Number(MARKS[pattern](at & 15, at >> 4));
  }
  return { inks, marks };
}
