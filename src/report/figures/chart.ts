/** Charts from a charting library: it draws scales, axes, grids and marks into our document, which is written as SVG here. */
import {
  type AxisXOptions,
  type AxisYOptions,
  axisX,
  axisY,
  type DotOptions,
  dot,
  frame,
  gridX,
  gridY,
  type Markish,
  type PlotOptions,
  plot,
  type RuleXOptions,
  type RuleYOptions,
  ruleX,
  ruleY,
  type SymbolType,
  type TextOptions,
  text,
} from '@observablehq/plot';
import { rounded } from '../../foundation/number-text.js';
import { GRID, MUTED } from './palette.js';
import { element, FONT_SIZE, xmlText } from './svg.js';
import { SvgDocument, type SvgElement } from './svg-document.js';

const BLACK = '#000000';
/** The library's labels for its parts and its style sheet; a single picture with a description needs neither. */
const DROPPED = new Set(['class', 'aria-label', 'aria-hidden', 'xmlns', 'xmlns:xlink', 'font-variant']);

/**
 * A chart as SVG, with its upper left corner at a point of the figure. `options` are those of the library; sizes in
 * px. Texts and attributes go through this program's escaping; numbers are rounded to hundredths of a pixel.
 */
export function chart(options: PlotOptions, left = 0, top = 0): string {
  const document = new SvgDocument() as unknown as Document;
  const drawn = plot({ ...options, document, className: 'chart' }) as unknown as SvgElement;
  return element(
    'g',
    {
      transform: `translate(${rounded(left, 2)},${rounded(top, 2)})`,
      fill: BLACK,
      color: BLACK,
      'text-anchor': 'middle',
      'font-size': FONT_SIZE,
    },
    ...drawn.childNodes.map(written),
  );
}

function written(node: SvgElement | string): string {
  if (typeof node === 'string') return xmlText(node);
  if (node.localName === 'style') return '';
  const attributes: Record<string, string> = {};
  for (const [name, value] of node.attributes) {
    if (DROPPED.has(name)) continue;
    attributes[name] = value.replace(/-?\d+\.\d{3,}(?:e-?\d+)?/g, (number) =>
      String(rounded(Number(number), 2)),
    );
  }
  return element(node.localName, attributes, ...node.childNodes.map(written));
}

/** A horizontal axis of numbers with grid lines; `title` carries the unit. */
export const bottomAxis = (title: string, options: AxisXOptions = {}): Markish[] => [
  gridX({ stroke: GRID, strokeOpacity: 1, ticks: options.ticks }),
  axisX({
    label: title,
    labelAnchor: 'center',
    labelArrow: 'none',
    labelOffset: 40,
    fontSize: FONT_SIZE,
    tickSize: 5,
    tickPadding: 5,
    stroke: MUTED,
    ...options,
  }),
  frame({ anchor: 'bottom', stroke: MUTED }),
];

/** A vertical axis of numbers with grid lines; the turned `title` carries the unit. */
export const leftAxis = (title: string, options: AxisYOptions = {}): Markish[] => [
  gridY({ stroke: GRID, strokeOpacity: 1, ticks: options.ticks }),
  axisY({
    label: title,
    labelAnchor: 'center',
    labelArrow: 'none',
    labelOffset: 52,
    fontSize: FONT_SIZE,
    tickSize: 5,
    tickPadding: 4,
    stroke: MUTED,
    ...options,
  }),
  frame({ anchor: 'left', stroke: MUTED }),
];

/** Text in the chart with a white outline, so that it stays legible over lines. */
export const words = <T>(data: readonly T[], options: TextOptions): Markish =>
  text([...data], {
    fill: BLACK,
    stroke: '#ffffff',
    strokeWidth: 4,
    fontSize: FONT_SIZE,
    lineHeight: 1.2,
    ...options,
  });

/** Stroke and fill of a symbol. */
export type Pen = Pick<CanvasPath, 'moveTo' | 'lineTo' | 'rect' | 'closePath'>;

/** A short bar across a whisker's end. */
const bar = (dx: number, dy: number): SymbolType => ({
  draw: (context: Pen) => {
    context.moveTo(-dx, -dy);
    context.lineTo(dx, dy);
  },
});

const ACROSS = 5;

/** Vertical whiskers with a bar at either end. */
export const whiskersUp = <T>(data: readonly T[], options: RuleXOptions & DotOptions): Markish[] => [
  ruleX([...data], { strokeWidth: 1.5, ...options }),
  ...[options.y1, options.y2].map((y) =>
    dot([...data], {
      x: options.x,
      y,
      dx: options.dx,
      stroke: options.stroke,
      strokeWidth: 1.5,
      symbol: bar(ACROSS, 0),
    }),
  ),
];

/** Horizontal whiskers with a bar at either end. */
export const whiskersLevel = <T>(data: readonly T[], options: RuleYOptions & DotOptions): Markish[] => [
  ruleY([...data], { strokeWidth: 2, ...options }),
  ...[options.x1, options.x2].map((x) =>
    dot([...data], { x, y: options.y, stroke: options.stroke, strokeWidth: 2, symbol: bar(0, ACROSS + 1) }),
  ),
];
