import { normalBelow } from '../foundation/normal-distribution.js';

/** Range of the table: radii in widths of the blur, and distance from the edge; beyond it the edge is nearly straight, or ends. */
const LARGEST_RADIUS = 10;
const RADIUS_STEP = 0.05;
const REACH = 6;
const REACH_STEP = 0.05;
const RADII = Math.round(LARGEST_RADIUS / RADIUS_STEP) + 1;
const PLACES = Math.round((2 * REACH) / REACH_STEP) + 1;
const CHORDS = 64;

let table: Float32Array | undefined;

/**
 * The share of a round vessel's contrast at a distance from its axis, in a scan with Gaussian blur: 1 deep inside, 0 far outside. On a
 * curved wall the half level is inside the wall by about sigma²/(2·radius).
 *
 * Units    all three in mm; `sigmaMm` is the standard deviation of the blur, its width at half maximum over 2.355
 * Source   a disc convolved with a Gaussian; as a model of vessels: Wörz & Rohr, Med Image Anal 2007 (from memory)
 * Checked  tests/witness/blurred-disc.test.ts: peak and widths of a published kind of table, and a convolution by sums
 */
export function blurredDisc(atMm: number, radiusMm: number, sigmaMm: number): number {
  const radius = radiusMm / sigmaMm;
  const place = (atMm - radiusMm) / sigmaMm;
  if (place >= REACH) return 0;
  if (radius >= LARGEST_RADIUS) return place <= -REACH ? 1 : normalBelow(-place - 0.5 / radius);
  table ??= fill();
  const u = Math.max(0, radius / RADIUS_STEP);
  const v = (Math.max(place, -REACH) + REACH) / REACH_STEP;
  const [i, j] = [Math.min(RADII - 2, Math.floor(u)), Math.min(PLACES - 2, Math.floor(v))];
  const [a, b] = [u - i, v - j];
  const at = i * PLACES + j;
  return (
    (1 - a) * ((1 - b) * table[at] + b * table[at + 1]) +
    a * ((1 - b) * table[at + PLACES] + b * table[at + PLACES + 1])
  );
}

/** Sums over chords of the disc: each is blurred along its length, then all of them across. */
function fill(): Float32Array {
  const filled = new Float32Array(RADII * PLACES);
  for (let i = 0; i < RADII; i++) {
    const radius = i * RADIUS_STEP;
    const chords = Array.from({ length: CHORDS }, (_, c) => {
      const angle = Math.PI * ((c + 0.5) / CHORDS - 0.5);
      const half = radius * Math.cos(angle);
      return {
        x: radius * Math.sin(angle),
        weight: ((2 * normalBelow(half) - 1) * half * Math.PI) / CHORDS / Math.sqrt(2 * Math.PI),
      };
    });
    for (let j = 0; j < PLACES; j++) {
      const from = radius + j * REACH_STEP - REACH;
      let sum = 0;
      for (const { x, weight } of chords) sum += weight * Math.exp(-0.5 * (from - x) ** 2);
      filled[i * PLACES + j] = sum;
    }
  }
  return filled;
}
