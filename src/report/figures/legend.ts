/** Legend entries under a figure. */
import { FONT_SIZE, label, textWidth } from './svg.js';

export interface LegendItem {
  text: string;
  /** Draws the sample into a 28 px wide, 14 px high field whose left middle is given. */
  sample: (x: number, y: number) => string;
}

/** Legend entries in rows. Returns the SVG and the height it takes, px. */
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
