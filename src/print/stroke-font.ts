/**
 * Letters as strokes on a grid two units wide and four high, drawn for this program: legible even if a stroke is as wide as a printer's
 * thinnest line. Each stroke is a run of points `xy`, joined by hyphens; strokes are separated by spaces.
 */
const GLYPHS: Record<string, string> = {
  A: '00-03-14-23-20 02-22',
  B: '00-04-14-23-12-02 12-21-10-00',
  C: '24-04-00-20',
  D: '00-04-14-23-21-10-00',
  E: '24-04-00-20 02-12',
  F: '24-04-00 02-12',
  G: '24-04-00-20-22-12',
  H: '00-04 20-24 02-22',
  I: '04-24 14-10 00-20',
  J: '24-21-10-01',
  K: '00-04 24-02-20',
  L: '04-00-20',
  M: '00-04-12-24-20',
  N: '00-04-20-24',
  O: '00-04-24-20-00',
  P: '00-04-24-22-02',
  Q: '00-04-24-20-00 11-20',
  R: '00-04-24-22-02 12-20',
  S: '23-14-03-21-10-01',
  T: '04-24 14-10',
  U: '04-00-20-24',
  V: '04-10-24',
  W: '04-00-12-20-24',
  X: '00-24 04-20',
  Y: '04-12-24 12-10',
  Z: '04-24-00-20',
  0: '00-04-24-20-00-24',
  1: '03-14-10 00-20',
  2: '04-24-22-02-00-20',
  3: '04-24-20-00 02-22',
  4: '04-02-22 24-20',
  5: '24-04-02-22-20-00',
  6: '24-04-00-20-22-02',
  7: '04-24-10',
  8: '00-04-24-20-00 02-22',
  9: '20-24-04-02-22',
  '-': '02-22',
  '.': '10-10',
  ':': '11-11 13-13',
  ' ': '',
};

/** Grid units from one letter to the next, and the height of a letter. */
export const ADVANCE = 3;
export const HEIGHT = 4;
const WIDTH = 2;

export type Stroke = readonly (readonly [number, number])[];

/** Width of a line of text in grid units, without the stroke's own width. */
export const textUnits = (text: string): number => Math.max(0, ADVANCE * text.length - (ADVANCE - WIDTH));

/**
 * Strokes of a text in grid units, its lower left corner at the origin. Lower-case letters are drawn as capitals; a character without
 * strokes leaves a gap.
 */
export function textStrokes(text: string): Stroke[] {
  return [...text.toUpperCase()].flatMap((sign, i) =>
    (GLYPHS[sign] ?? '')
      .split(' ')
      .filter((run) => run !== '')
      .map((run) => run.split('-').map((xy) => [ADVANCE * i + Number(xy[0]), Number(xy[1])] as const)),
  );
}

/** Characters that can be drawn. */
export const canDraw = (sign: string): boolean => Object.hasOwn(GLYPHS, sign.toUpperCase());
