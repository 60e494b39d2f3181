import type { TriangleMesh } from '../../mesh/mesh.js';

/** A part to draw in one colour. */
interface RasterPart {
  mesh: TriangleMesh;
  /** Red, green, blue, 0..255. */
  colour: Rgb;
  pattern?: Pattern;
  /** Lies behind all others, wherever it is, and has no outlines. */
  isBehind?: boolean;
}

type Rgb = readonly [number, number, number];

/** Rising or falling stripes, level or upright ones, dots. */
export type Pattern = 'rising' | 'falling' | 'level' | 'upright' | 'dots';

/** Whether a sample of the picture lies on a mark of the pattern. Marks repeat every 8 pixels. */
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
 * A parallel projection: three rows that give, for a point in mm, the screen's right and down (pixels) and the
 * distance from the viewer. Each row is `[x, y, z, offset]`.
 */
export type Projection = readonly [Row, Row, Row];
type Row = readonly [number, number, number, number];

/** Side of the squares of samples that are averaged into one pixel. */
const SAMPLES = 2;

interface Samples {
  depth: Float64Array;
  colour: Uint8Array;
  /** Index of the part that is seen, -1 for none. */
  owner: Int32Array;
}

/** A picture, 3 bytes a pixel, rows from the top, and the depth of what is seen at a place (pixels). */
interface Picture {
  pixels: Uint8Array;
  /** As the third row of the projection gives it; infinite where nothing is seen or outside the picture. */
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
  const [w, h] = [width * SAMPLES, height * SAMPLES];
  const depth = new Float64Array(w * h).fill(Number.POSITIVE_INFINITY);
  const colour = new Uint8Array(3 * w * h).fill(255);
  const owner = new Int32Array(w * h).fill(-1);
  const draw = (isBehind: boolean): void => {
    for (const [i, part] of parts.entries())
      if ((part.isBehind ?? false) === isBehind)
        drawPart(part, i, projection, w, h, { depth, colour, owner });
  };
  if (parts.some((part) => part.isBehind)) {
    draw(true);
    depth.fill(Number.POSITIVE_INFINITY);
    owner.fill(-1);
  }
  draw(false);
  drawEdges(w, h, { depth, colour, owner });
  const depthAt = (x: number, y: number): number => {
    const [i, j] = [Math.floor(SAMPLES * x), Math.floor(SAMPLES * y)];
    return i >= 0 && j >= 0 && i < w && j < h ? depth[j * w + i]! / SAMPLES : Number.POSITIVE_INFINITY;
  };
  return { pixels: averaged({ depth, colour, owner }, width, height), depthAt };
}

const project = (row: Row, p: Float64Array, i: number): number =>
  row[0] * p[i]! + row[1] * p[i + 1]! + row[2] * p[i + 2]! + row[3];

function drawPart(
  part: RasterPart,
  index: number,
  [right, down, away]: Projection,
  w: number,
  h: number,
  { depth, colour, owner }: Samples,
): void {
  const marks = part.pattern && MARKS[part.pattern];
  const onMark = markColour(part.colour);
  const { positions, triangles } = part.mesh;
  for (let t = 0; t + 2 < triangles.length; t += 3) {
    const [a, b, c] = [3 * triangles[t]!, 3 * triangles[t + 1]!, 3 * triangles[t + 2]!];
    const ax = SAMPLES * project(right, positions, a);
    const bx = SAMPLES * project(right, positions, b);
    const cx = SAMPLES * project(right, positions, c);
    const ay = SAMPLES * project(down, positions, a);
    const by = SAMPLES * project(down, positions, b);
    const cy = SAMPLES * project(down, positions, c);
    const az = SAMPLES * project(away, positions, a);
    const bz = SAMPLES * project(away, positions, b);
    const cz = SAMPLES * project(away, positions, c);
    const area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
    if (area === 0 || !Number.isFinite(area)) continue;
    // Cosine of the angle between the triangle and the screen: its projected area over its area.
    const nx = (by - ay) * (cz - az) - (cy - ay) * (bz - az);
    const ny = (bz - az) * (cx - ax) - (cz - az) * (bx - ax);
    const light = 0.3 + 0.7 * (Math.abs(area) / Math.sqrt(nx * nx + ny * ny + area * area));
    const x0 = Math.max(0, Math.ceil(Math.min(ax, bx, cx) - 0.5));
    const x1 = Math.min(w - 1, Math.floor(Math.max(ax, bx, cx) - 0.5));
    const y0 = Math.max(0, Math.ceil(Math.min(ay, by, cy) - 0.5));
    const y1 = Math.min(h - 1, Math.floor(Math.max(ay, by, cy) - 0.5));
    const plain = shaded(part.colour, light);
    const marked = marks ? shaded(onMark, light) : plain;
    // Shares of the corners b and c in a sample, and their steps from one sample to the next.
    const [stepB, stepC] = [(cy - ay) / area, -(by - ay) / area];
    for (let y = y0; y <= y1; y++) {
      const py = y + 0.5 - ay;
      const startB = (-ax * (cy - ay) - (cx - ax) * py) / area;
      const startC = ((bx - ax) * py + ax * (by - ay)) / area;
      for (let x = x0; x <= x1; x++) {
        const wb = startB + (x + 0.5) * stepB;
        const wc = startC + (x + 0.5) * stepC;
        if (wb < 0 || wc < 0 || wb + wc > 1) continue;
        const z = az + wb * (bz - az) + wc * (cz - az);
        const at = y * w + x;
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

/** Darkens the nearer of two neighbours where parts meet or the depth jumps: outlines that hold in grey. */
function drawEdges(w: number, h: number, { depth, colour, owner }: Samples): void {
  const edge = new Uint8Array(w * h);
  const compare = (a: number, b: number): void => {
    const mine = owner[a]!;
    const other = owner[b]!;
    // most of a picture is empty
    if (mine < 0 && other < 0) return;
    if (mine === other && !(Math.abs(depth[a]! - depth[b]!) > EDGE_STEP)) return;
    edge[depth[a]! <= depth[b]! ? a : b] = 1;
  };
  for (let y = 0; y < h; y++) {
    for (let x = 0; x < w; x++) {
      const at = y * w + x;
      if (x + 1 < w) compare(at, at + 1);
      if (y + 1 < h) compare(at, at + w);
    }
  }
  for (let at = 0; at < edge.length; at++)
    if (edge[at]) for (let k = 0; k < 3; k++) colour[3 * at + k] = Math.round(0.3 * colour[3 * at + k]!);
}

/** The mean of each pixel's samples; white where none of them shows anything. */
function averaged({ colour, owner }: Samples, width: number, height: number): Uint8Array {
  const pixels = new Uint8Array(3 * width * height).fill(255);
  const row = width * SAMPLES;
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const from = SAMPLES * (y * row + x);
      if (!isSeen(owner, from, row)) continue;
      for (let k = 0; k < 3; k++) {
        let sum = 0;
        for (let j = 0; j < SAMPLES; j++)
          for (let i = 0; i < SAMPLES; i++) sum += colour[3 * (from + j * row + i) + k]!;
        pixels[3 * (y * width + x) + k] = Math.round(sum / SAMPLES ** 2);
      }
    }
  }
  return pixels;
}

function isSeen(owner: Int32Array, from: number, row: number): boolean {
  for (let j = 0; j < SAMPLES; j++)
    for (let i = 0; i < SAMPLES; i++) if (owner[from + j * row + i]! >= 0) return true;
  return false;
}
