import type { TriangleMesh } from '../../mesh/mesh.js';

/** A part to draw in one colour. */
interface RasterPart {
  mesh: TriangleMesh;
  /** Red, green, blue, 0..255. */
  colour: Rgb;
  pattern?: Pattern;
  /** Drawn behind all others, whatever its depth, and without outlines. */
  isBehind?: boolean;
}

type Rgb = readonly [number, number, number];

/** Stripes (rising, falling, horizontal or vertical) or dots. */
export type Pattern = 'rising' | 'falling' | 'level' | 'upright' | 'dots';

/** Whether a sample is on a mark of the pattern. Patterns repeat every 8 pixels. */
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
  depth: Float64Array;
  colour: Uint8Array;
  /** Index of the visible part, else `NONE` or `BEHIND`. */
  owner: Int32Array;
}

const NONE = -1;
/** A part drawn behind all others is visible; it has no outlines. */
const BEHIND = -2;

/** A picture, 3 bytes per pixel, rows from the top, and the visible depth at a position (pixels). */
interface Picture {
  pixels: Uint8Array;
  /** In terms of the projection's third row; infinite where nothing is visible or outside the picture. */
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
  const screens = parts.map(({ mesh }) => onScreen(mesh, projection));
  const samples = samplesOf(parts, screens, width * SAMPLES, height * SAMPLES);
  const { left, top, columns, rows, depth } = samples;
  const draw = (isBehind: boolean): void => {
    for (const [i, part] of parts.entries())
      if ((part.isBehind ?? false) === isBehind) drawPart(part, isBehind ? BEHIND : i, screens[i]!, samples);
  };
  if (parts.some((part) => part.isBehind)) {
    draw(true);
    depth.fill(Number.POSITIVE_INFINITY);
  }
  draw(false);
  drawEdges(samples);
  const depthAt = (x: number, y: number): number => {
    const [i, j] = [Math.floor(SAMPLES * x) - left, Math.floor(SAMPLES * y) - top];
    return i >= 0 && j >= 0 && i < columns && j < rows
      ? depth[j * columns + i]! / SAMPLES
      : Number.POSITIVE_INFINITY;
  };
  return { pixels: averaged(samples, width, height), depthAt };
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

/** Allocates the samples that the parts can cover in a picture of w x h samples, with a margin of one sample for the outlines. */
function samplesOf(
  parts: readonly RasterPart[],
  screens: readonly Float64Array[],
  w: number,
  h: number,
): Samples {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [i, { mesh }] of parts.entries()) {
    const screen = screens[i]!;
    const { triangles } = mesh;
    for (let c = 0; c < triangles.length; c++) {
      const x = screen[3 * triangles[c]!]!;
      const y = screen[3 * triangles[c]! + 1]!;
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
    }
  }
  const whole = (value: number): number => SAMPLES * Math.floor(value / SAMPLES);
  const left = Math.max(0, whole(x0 - 2));
  const top = Math.max(0, whole(y0 - 2));
  const right = Math.min(w, whole(x1 + 2) + SAMPLES);
  const bottom = Math.min(h, whole(y1 + 2) + SAMPLES);
  const [columns, rows] = right > left && bottom > top ? [right - left, bottom - top] : [0, 0];
  return {
    left,
    top,
    columns,
    rows,
    depth: new Float64Array(columns * rows).fill(Number.POSITIVE_INFINITY),
    colour: new Uint8Array(3 * columns * rows).fill(255),
    owner: new Int32Array(columns * rows).fill(NONE),
  };
}

function drawPart(part: RasterPart, index: number, screen: Float64Array, samples: Samples): void {
  const { left, top, columns, rows, depth, colour, owner } = samples;
  const marks = part.pattern && MARKS[part.pattern];
  const onMark = markColour(part.colour);
  const { triangles } = part.mesh;
  for (let t = 0; t + 2 < triangles.length; t += 3) {
    const a = 3 * triangles[t]!;
    const b = 3 * triangles[t + 1]!;
    const c = 3 * triangles[t + 2]!;
    const ax = screen[a]!;
    const bx = screen[b]!;
    const cx = screen[c]!;
    const ay = screen[a + 1]!;
    const by = screen[b + 1]!;
    const cy = screen[c + 1]!;
    const x0 = Math.max(left, Math.ceil(Math.min(ax, bx, cx) - 0.5));
    const x1 = Math.min(left + columns - 1, Math.floor(Math.max(ax, bx, cx) - 0.5));
    const y0 = Math.max(top, Math.ceil(Math.min(ay, by, cy) - 0.5));
    const y1 = Math.min(top + rows - 1, Math.floor(Math.max(ay, by, cy) - 0.5));
    if (!(x0 <= x1 && y0 <= y1)) continue;
    const area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
    if (area === 0 || !Number.isFinite(area)) continue;
    const az = screen[a + 2]!;
    const bz = screen[b + 2]!;
    const cz = screen[c + 2]!;
    // Cosine of the angle between the triangle and the screen: its projected area over its area.
    const nx = (by - ay) * (cz - az) - (cy - ay) * (bz - az);
    const ny = (bz - az) * (cx - ax) - (cz - az) * (bx - ax);
    const light = 0.3 + 0.7 * (Math.abs(area) / Math.sqrt(nx * nx + ny * ny + area * area));
    const plain = shaded(part.colour, light);
    const marked = marks ? shaded(onMark, light) : plain;
    // Barycentric weights of corners b and c at a sample, and their steps from one sample to the next.
    const stepB = (cy - ay) / area;
    const stepC = -(by - ay) / area;
    for (let y = y0; y <= y1; y++) {
      const py = y + 0.5 - ay;
      const startB = (-ax * (cy - ay) - (cx - ax) * py) / area;
      const startC = ((bx - ax) * py + ax * (by - ay)) / area;
      const row = (y - top) * columns - left;
      for (let x = x0; x <= x1; x++) {
        const wb = startB + (x + 0.5) * stepB;
        const wc = startC + (x + 0.5) * stepC;
        if (wb < 0 || wc < 0 || wb + wc > 1) continue;
        const z = az + wb * (bz - az) + wc * (cz - az);
        const at = row + x;
        if (z >= depth[at]!) continue;
        depth[at] = z;
        owner[at] = index;
        const paint = marks?.(x, y) ? marked : plain;
        colour[3 * at] = paint[0];
        colour[3 * at + 1] = paint[1];
        colour[3 * at + 2] = paint[2];
      }
    }
  }
}

const shaded = ([r, g, b]: Rgb, light: number): Rgb => [
  Math.round(r * light),
  Math.round(g * light),
  Math.round(b * light),
];

/** Depth step between neighbouring samples, in samples, from which the nearer one is an edge. */
const EDGE_STEP = 8;

/** Darkens the nearer of two neighbours where parts meet or the depth jumps, so that outlines survive grey printing. */
function drawEdges({ columns, rows, depth, colour, owner }: Samples): void {
  const edge = new Uint8Array(columns * rows);
  const compare = (a: number, b: number): void => {
    const mine = owner[a]!;
    const other = owner[b]!;
    // most of a picture is empty
    if (mine < 0 && other < 0) return;
    if (mine === other && !(Math.abs(depth[a]! - depth[b]!) > EDGE_STEP)) return;
    edge[depth[a]! <= depth[b]! ? a : b] = 1;
  };
  for (let y = 0; y < rows; y++) {
    const first = y * columns;
    for (let x = 0; x < columns; x++) {
      if (x + 1 < columns) compare(first + x, first + x + 1);
      if (y + 1 < rows) compare(first + x, first + x + columns);
    }
  }
  for (let at = 0; at < edge.length; at++)
    if (edge[at]) for (let k = 0; k < 3; k++) colour[3 * at + k] = Math.round(0.3 * colour[3 * at + k]!);
}

/** The mean of each pixel's samples; white if all are empty. */
function averaged(
  { left, top, columns, rows, colour, owner }: Samples,
  width: number,
  height: number,
): Uint8Array {
  const pixels = new Uint8Array(3 * width * height).fill(255);
  for (let y = 0; y < rows; y += SAMPLES) {
    for (let x = 0; x < columns; x += SAMPLES) {
      const from = y * columns + x;
      if (!isSeen(owner, from, columns)) continue;
      const to = 3 * (((top + y) / SAMPLES) * width + (left + x) / SAMPLES);
      for (let k = 0; k < 3; k++) {
        let sum = 0;
        for (let j = 0; j < SAMPLES; j++)
          for (let i = 0; i < SAMPLES; i++) sum += colour[3 * (from + j * columns + i) + k]!;
        pixels[to + k] = Math.round(sum / SAMPLES ** 2);
      }
    }
  }
  return pixels;
}

function isSeen(owner: Int32Array, from: number, row: number): boolean {
  for (let j = 0; j < SAMPLES; j++)
    for (let i = 0; i < SAMPLES; i++) if (owner[from + j * row + i] !== NONE) return true;
  return false;
}
