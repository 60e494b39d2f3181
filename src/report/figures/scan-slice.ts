/** One picture of the scan on a plane, with the surfaces drawn over it, letters of the patient's axes and a millimetre scale. */
import { scale } from '../../foundation/vector.js';
import type { ScanSlice } from '../../witness/scan-pictures.js';
import { greyImage, shareOutside } from './grey-image.js';
import { COLOURS } from './palette.js';
import { type Box, clipped, element, label, line } from './svg.js';
import { directionLetters } from './view-axes.js';

/** Lines over grey values: the surface is a solid line, the wall in the image a dashed one. */
export const SURFACE_LINE = COLOURS.yellow;
export const IMAGE_LINE = COLOURS.skyBlue;
export const IMAGE_DASH = '5 3';

/** Line colours over a picture: by role for the vessels and sac of the lesion, muted for everything else. */
const LINES: Readonly<Record<string, string>> = {
  feeder: SURFACE_LINE,
  'systemic-feeder': SURFACE_LINE,
  whole: SURFACE_LINE,
  sac: COLOURS.orange,
  drain: COLOURS.vermilion,
  branch: COLOURS.green,
};
const OTHER_LINE = '#c8c8c8';

export const lineOf = (role: string): string => (Object.hasOwn(LINES, role) ? LINES[role]! : OTHER_LINE);

/** Draws a slice into a square of the figure; `over` draws on top; it maps mm of the plane to px of the figure. */
export function sliceSvg(
  slice: ScanSlice,
  box: Box,
  id: string,
  over: (x: (mm: number) => number, y: (mm: number) => number) => string = () => '',
): string {
  const { reachMm, grey, outlines, plane } = slice;
  const size = box.right - box.left;
  const perMm = size / (2 * reachMm);
  const [middleX, middleY] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const x = (mm: number): number => middleX + mm * perMm;
  const y = (mm: number): number => middleY + mm * perMm;
  // pixels extend a little past the square if the step does not divide it
  const shown = grey.columns * grey.stepMm * perMm;
  const lines = outlines.map(({ role, lines: own }) =>
    element('path', {
      d: own.map((points) => pathOf(points, x, y)).join(''),
      fill: 'none',
      stroke: lineOf(role),
      'stroke-width': 1.6,
      'stroke-linejoin': 'round',
    }),
  );
  return [
    clipped(
      id,
      box,
      greyImage(grey, { x: middleX - shown / 2, y: middleY - shown / 2, width: shown, height: shown }),
      ...lines,
      over(x, y),
    ),
    letters(plane, box),
    scaleBar(box, perMm, reachMm),
    shareOutside(grey) > 0.02
      ? label('black: outside of the scan', middleX, box.bottom + 32, { anchor: 'middle', size: 11 })
      : '',
  ].join('');
}

/** A line in the plane as a path; points within a third of a pixel of the last one are left out. */
export function pathOf(
  points: readonly number[],
  x: (mm: number) => number,
  y: (mm: number) => number,
): string {
  let path = '';
  let [lastX, lastY] = [Number.NaN, Number.NaN];
  for (let i = 0; i < points.length; i += 2) {
    const [px, py] = [x(points[i]!), y(points[i + 1]!)];
    const isEnd = i + 2 >= points.length;
    if (!isEnd && Math.hypot(px - lastX, py - lastY) < 0.35) continue;
    path += `${path === '' ? 'M' : 'L'}${px.toFixed(1)} ${py.toFixed(1)}`;
    [lastX, lastY] = [px, py];
  }
  return path;
}

function letters({ right, down }: ScanSlice['plane'], box: Box): string {
  const [middleX, middleY] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const style = { size: 12, bold: true, halo: true } as const;
  return [
    label(directionLetters(scale(right, -1)), box.left + 4, middleY + 4, style),
    label(directionLetters(right), box.right - 4, middleY + 4, { ...style, anchor: 'end' }),
    label(directionLetters(scale(down, -1)), middleX, box.top + 14, { ...style, anchor: 'middle' }),
    label(directionLetters(down), middleX, box.bottom - 5, { ...style, anchor: 'middle' }),
  ].join('');
}

/** A scale bar of a round length below a picture, on the right. */
function scaleBar(box: Box, perMm: number, reachMm: number): string {
  const mm = reachMm > 25 ? 20 : reachMm > 12 ? 10 : 5;
  const y = box.bottom + 12;
  const from = box.right - mm * perMm;
  return [
    line(from, y, box.right, y, COLOURS.black, 2),
    line(from, y - 4, from, y + 4, COLOURS.black, 1),
    line(box.right, y - 4, box.right, y + 4, COLOURS.black, 1),
    label(`${mm} mm`, from - 6, y + 4, { anchor: 'end', size: 11 }),
  ].join('');
}
