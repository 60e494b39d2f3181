/** Colours, patterns and shading of a raster. */

export type Rgb = readonly [number, number, number];

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

/** The value of a sample: the part's number from 1, shifted by this, then a bit for an outline and the shade in `LIGHTS` steps. */
export const PART_SHIFT = 8;
export const OUTLINE = 128;
export const LIGHTS = 127;

/** A part's colour and pattern. */
interface Inked {
  colour: Rgb;
  pattern?: Pattern;
}

/** A part's colour off a mark of its pattern, and on one. */
export const inksOf = ({ colour, pattern }: Inked): readonly [Rgb, Rgb] => [
  colour,
  pattern ? markColour(colour) : colour,
];

/** An outline is darkened to this share of the light. */
export const OUTLINE_LIGHT = 0.3;

/** Whether a sample is on a mark of its part's pattern: 16 x 16 samples for each number, from 0. */
export function marksOf(parts: readonly Inked[]): Uint8Array {
  const marks = new Uint8Array((parts.length + 1) << 8);
  for (const [i, { pattern }] of parts.entries())
    for (let at = 0; pattern && at < 256; at++)
      marks[((i + 1) << 8) | at] = Number(MARKS[pattern](at & 15, at >> 4));
  return marks;
}
