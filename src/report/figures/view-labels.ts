/** Labels in two columns next to a picture, joined to their points by leaders. */
import { COLOURS } from './palette.js';
import { type Box, element, fitText, label, line, textWidth } from './svg.js';

export interface LabelPoint {
  text: string;
  /** Pixels of the figure. */
  x: number;
  y: number;
  /** The point is hidden, so its leader is dashed. */
  hidden?: boolean;
}

export interface PlacedLabel extends LabelPoint {
  box: Box;
  /** Where the leader meets the label. */
  end: { x: number; y: number };
  onRight: boolean;
}

const SIZE = 11;
const ROW = 15;
const GAP = 3;

/** Width of a column of labels, px, for texts of up to `letters` letters. */
export const columnWidth = (letters: number): number => letters * SIZE * 0.6 + GAP;

/**
 * Places each label in the column on its side of the area, ordered by its point from top to bottom, so that no labels overlap and no
 * leaders of a column cross. Labels that do not fit in their column go to the other; those that fit in neither are counted.
 */
export function placeLabels(
  points: readonly LabelPoint[],
  area: Box,
  column: number,
): { placed: PlacedLabel[]; leftOut: number } {
  const capacity = Math.max(0, Math.floor((area.bottom - area.top) / ROW));
  const middle = (area.left + area.right) / 2;
  const ordered = [...points].sort((p, q) => Math.abs(q.x - middle) - Math.abs(p.x - middle) || p.y - q.y);
  const columns: [LabelPoint[], LabelPoint[]] = [[], []];
  let leftOut = 0;
  for (const point of ordered) {
    const own = columns[point.x > middle ? 1 : 0];
    const other = columns[point.x > middle ? 0 : 1];
    const to = own.length < capacity ? own : other.length < capacity ? other : undefined;
    if (to) to.push(point);
    else leftOut += 1;
  }
  const placed = columns.flatMap((ones, onRight) => inColumn(ones, area, column, onRight === 1));
  return { placed, leftOut };
}

function inColumn(points: readonly LabelPoint[], area: Box, column: number, onRight: boolean): PlacedLabel[] {
  const sorted = [...points].sort((p, q) => p.y - q.y || p.x - q.x);
  const x = onRight ? area.right - column : area.left + column;
  const tops: number[] = [];
  for (const point of sorted)
    tops.push(Math.max(area.top, point.y - ROW / 2, (tops.at(-1) ?? Number.NEGATIVE_INFINITY) + ROW));
  let floor = area.bottom;
  for (let i = tops.length - 1; i >= 0; i--) {
    tops[i] = Math.min(tops[i]!, floor - ROW);
    floor = tops[i]!;
  }
  const ends = tops.map((top) => ({ x, y: top + ROW / 2 }));
  uncross(sorted, ends);
  return sorted.map((point, i) => {
    const end = ends[i]!;
    const text = fitText(point.text, column - GAP, SIZE);
    const wide = textWidth(text, SIZE);
    const left = onRight ? x + GAP : x - GAP - wide;
    return {
      ...point,
      text,
      onRight,
      end,
      box: { left, right: left + wide, top: end.y - ROW / 2, bottom: end.y + ROW / 2 },
    };
  });
}

/** Swaps the ends of crossing leaders; it terminates because each swap shortens their total length. */
function uncross(points: readonly LabelPoint[], ends: { x: number; y: number }[]): void {
  for (let again = true, round = 0; again && round < points.length ** 2; round++) {
    again = false;
    for (let i = 0; i < points.length; i++) {
      for (let j = i + 1; j < points.length; j++) {
        if (!segmentsCross(points[i]!, ends[i]!, points[j]!, ends[j]!)) continue;
        [ends[i], ends[j]] = [ends[j]!, ends[i]!];
        again = true;
      }
    }
  }
}

type Point = { x: number; y: number };

/** Whether two segments cross at an inner point. */
export function segmentsCross(a: Point, b: Point, c: Point, d: Point): boolean {
  const side = (p: Point, q: Point, r: Point): number =>
    Math.sign((q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x));
  return side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0;
}

/** Leaders first, then their points, then the texts, so that no line runs over a text. */
export function labelsSvg(placed: readonly PlacedLabel[]): string {
  return [
    ...placed.map(({ x, y, end }) => line(x, y, end.x, end.y, '#ffffff', 2.4)),
    ...placed.map(({ x, y, end, hidden }) =>
      line(x, y, end.x, end.y, COLOURS.black, 0.9, hidden ? '4 3' : undefined),
    ),
    ...placed.map(({ x, y, hidden }) =>
      element('circle', {
        cx: x,
        cy: y,
        r: 3,
        fill: '#ffffff',
        'fill-opacity': hidden ? 0.5 : undefined,
        stroke: COLOURS.black,
        'stroke-dasharray': hidden ? '2 1.5' : undefined,
      }),
    ),
    ...placed.map(({ text, end, onRight }) =>
      label(text, end.x + (onRight ? GAP : -GAP), end.y + 4, {
        anchor: onRight ? 'start' : 'end',
        size: SIZE,
        halo: true,
      }),
    ),
  ].join('');
}
