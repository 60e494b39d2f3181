import type { TriangleMesh } from '../../mesh/mesh.js';

/** A part to draw in one colour. */
interface RasterPart {
  mesh: TriangleMesh;
  /** Red, green, blue, 0..255. */
  colour: readonly [number, number, number];
}

/**
 * A parallel projection: three rows that give, for a point in mm, the screen's right and down (pixels) and the
 * distance from the viewer. Each row is `[x, y, z, offset]`.
 */
export type Projection = readonly [Row, Row, Row];
type Row = readonly [number, number, number, number];

/** Side of the squares of samples that are averaged into one pixel. */
const SAMPLES = 2;

/**
 * Draws meshes with hidden surfaces removed (depth buffer) and shading by the angle to the viewer.
 * Returns 3 bytes a pixel, rows from the top, on white. Linear in triangles plus covered samples.
 */
export function rasterise(
  parts: readonly RasterPart[],
  projection: Projection,
  width: number,
  height: number,
): Uint8Array {
  const [w, h] = [width * SAMPLES, height * SAMPLES];
  const depth = new Float64Array(w * h).fill(Number.POSITIVE_INFINITY);
  const colour = new Uint8Array(3 * w * h).fill(255);
  for (const part of parts) drawPart(part, projection, w, h, depth, colour);
  return averaged(colour, width, height);
}

const project = (row: Row, p: Float64Array, i: number): number =>
  row[0] * p[i]! + row[1] * p[i + 1]! + row[2] * p[i + 2]! + row[3];

function drawPart(
  part: RasterPart,
  [right, down, away]: Projection,
  w: number,
  h: number,
  depth: Float64Array,
  colour: Uint8Array,
): void {
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
    for (let y = y0; y <= y1; y++) {
      for (let x = x0; x <= x1; x++) {
        const [px, py] = [x + 0.5, y + 0.5];
        const wb = ((px - ax) * (cy - ay) - (cx - ax) * (py - ay)) / area;
        const wc = ((bx - ax) * (py - ay) - (px - ax) * (by - ay)) / area;
        if (wb < 0 || wc < 0 || wb + wc > 1) continue;
        const z = az + wb * (bz - az) + wc * (cz - az);
        const at = y * w + x;
        if (z >= depth[at]!) continue;
        depth[at] = z;
        for (let k = 0; k < 3; k++) colour[3 * at + k] = Math.round(part.colour[k]! * light);
      }
    }
  }
}

function averaged(samples: Uint8Array, width: number, height: number): Uint8Array {
  const pixels = new Uint8Array(3 * width * height);
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      for (let k = 0; k < 3; k++) {
        let sum = 0;
        for (let j = 0; j < SAMPLES; j++) {
          for (let i = 0; i < SAMPLES; i++) {
            sum += samples[3 * ((SAMPLES * y + j) * width * SAMPLES + SAMPLES * x + i) + k]!;
          }
        }
        pixels[3 * (y * width + x) + k] = Math.round(sum / SAMPLES ** 2);
      }
    }
  }
  return pixels;
}
