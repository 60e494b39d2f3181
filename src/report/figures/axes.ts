/** Axes and legend strips for the figures. */
import type { ScaleLinear } from 'd3-scale';
import { fixed } from '../../foundation/number-text.js';
import { GRID, MUTED } from './palette.js';
import { FONT_SIZE, label, line, textWidth } from './svg.js';

export interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** Digits that the step between ticks needs. */
function tickDigits(ticks: readonly number[]): number {
  const step = ticks.length > 1 ? Math.abs(ticks[1]! - ticks[0]!) : 1;
  return step >= 1 ? 0 : step >= 0.1 ? 1 : 2;
}

/** A horizontal axis under the box, with grid lines and a title that carries the unit. */
export function bottomAxis(scale: ScaleLinear<number, number>, box: Box, title: string, count = 8): string {
  const ticks = scale.ticks(count);
  const digits = tickDigits(ticks);
  const marks = ticks.map((tick) => {
    const x = scale(tick);
    return (
      line(x, box.top, x, box.bottom, GRID) +
      line(x, box.bottom, x, box.bottom + 5, MUTED) +
      label(fixed(tick, digits), x, box.bottom + 20, { anchor: 'middle' })
    );
  });
  return [
    ...marks,
    line(box.left, box.bottom, box.right, box.bottom, MUTED),
    label(title, (box.left + box.right) / 2, box.bottom + 40, { anchor: 'middle' }),
  ].join('');
}

/** A vertical axis left of the box, with grid lines and a turned title that carries the unit. */
export function leftAxis(scale: ScaleLinear<number, number>, box: Box, title: string, count = 6): string {
  const ticks = scale.ticks(count);
  const digits = tickDigits(ticks);
  const marks = ticks.map((tick) => {
    const y = scale(tick);
    return (
      line(box.left, y, box.right, y, GRID) +
      line(box.left - 5, y, box.left, y, MUTED) +
      label(fixed(tick, digits), box.left - 9, y + 4, { anchor: 'end' })
    );
  });
  return [
    ...marks,
    line(box.left, box.top, box.left, box.bottom, MUTED),
    label(title, box.left - 46, (box.top + box.bottom) / 2, { anchor: 'middle', rotate: -90 }),
  ].join('');
}

export interface LegendItem {
  text: string;
  /** Draws the sample into a 28 px wide, 14 px high field whose left middle is given. */
  sample: (x: number, y: number) => string;
}

/** Legend entries in rows under a figure. Returns the SVG and the height it takes, px. */
export function legendStrip(
  items: readonly LegendItem[],
  left: number,
  right: number,
  top: number,
): { svg: string; height: number } {
  const rowHeight = 22;
  let x = left;
  let row = 0;
  const drawn: string[] = [];
  for (const item of items) {
    const width = 36 + textWidth(item.text, FONT_SIZE - 1) + 18;
    if (x > left && x + width > right) {
      x = left;
      row += 1;
    }
    const y = top + row * rowHeight + rowHeight / 2;
    drawn.push(item.sample(x, y), label(item.text, x + 36, y + 4, { size: FONT_SIZE - 1 }));
    x += width;
  }
  return { svg: drawn.join(''), height: items.length > 0 ? (row + 1) * rowHeight : 0 };
}

/** Puts labels that stand over x positions into as few rows as keep them apart; returns the row of each. */
export function labelRows(places: readonly { x: number; width: number }[], gap = 8): number[] {
  const order = places.map((_, i) => i).sort((a, b) => places[a]!.x - places[b]!.x || a - b);
  const ends: number[] = [];
  const rows = new Array<number>(places.length).fill(0);
  for (const i of order) {
    const { x, width } = places[i]!;
    const start = x - width / 2;
    let row = ends.findIndex((end) => start >= end + gap);
    if (row < 0) row = ends.length;
    ends[row] = x + width / 2;
    rows[i] = row;
  }
  return rows;
}
