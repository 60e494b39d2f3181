import { axisX, dot, frame, type Markish, type SymbolType } from '@observablehq/plot';
import { fixed } from '../../foundation/number-text.js';
import { headlineShunt } from '../../result/headline.js';
import type { Closure, Result } from '../../result/result.generated.js';
import { type Interval, percent, percentInterval } from '../words.js';
import { chart, leftAxis, type Pen, whiskersUp, words } from './chart.js';
import { type LegendItem, legendStrip } from './legend.js';
import { COLOURS, MUTED } from './palette.js';
import { element, figure, label, line, wrapText } from './svg.js';

interface Point {
  value: number;
  interval?: Interval;
}

interface Step {
  name: string;
  /** The shunt before anything is closed, shown for comparison. */
  baseline?: true;
  shunt?: Point;
  roomAir?: Point;
  onOxygen?: Point;
  pressure?: Point;
}

type Shape = 'circle' | 'square' | 'triangle';

interface Series {
  of: (step: Step) => Point | undefined;
  shape: Shape;
  colour: string;
  /** Offset of the mark from the middle of its column, px. */
  shift: number;
  digits: number;
  prefix?: string;
}

const PANEL = 150;
const GAP = 34;
const LEFT = 84;
const TOP = 43;

/** The content of the closure chart, in words. */
export function closureAlt(result: Result): string {
  const parts = stepsOf(result).map((step) => {
    const said = [
      step.shunt && `shunt ${fixed(step.shunt.value, 1)} %`,
      step.roomAir && `SaO2 on room air ${fixed(step.roomAir.value, 1)} %`,
      step.onOxygen && `SaO2 on oxygen ${fixed(step.onOxygen.value, 1)} %`,
      step.pressure && `mean PA pressure at most ${fixed(step.pressure.value, 1)} mmHg`,
    ].filter((text) => text !== undefined);
    return `${step.name}: ${said.join(', ') || 'nothing computed'}.`;
  });
  return `Expected shunt, saturation and pulmonary artery pressure for each virtual closure. ${parts.join(' ')}`;
}

/** Draws shunt, saturation and pressure for each closure step, one panel each. Undefined if nothing was computed. */
export function closureChartSvg(result: Result): string | undefined {
  const steps = stepsOf(result);
  const panels = panelsOf().filter((panel) => panel.series.some((s) => steps.some((step) => s.of(step))));
  if (steps.length === 0 || panels.length === 0) return undefined;
  const column = Math.max(96, Math.min(170, 680 / steps.length));
  const plotWidth = column * steps.length;
  const width = Math.max(520, LEFT + plotWidth + 30);
  const wrapped = steps.map((step) => wrapText(step.name, column - 8, 3, 12));
  const names = Math.max(...wrapped.map((lines) => lines.length)) * 15;
  const drawn = panels.map((panel, p) => {
    const last = p === panels.length - 1;
    return chart(
      {
        width: LEFT + plotWidth,
        height: GAP / 2 + PANEL + (last ? 20 + names : GAP / 2),
        marginLeft: LEFT,
        marginRight: 0,
        marginTop: GAP / 2,
        marginBottom: last ? 20 + names : GAP / 2,
        x: { type: 'band', domain: steps.map((_, i) => i), padding: 0, axis: null },
        y: { domain: reach(panel, steps), nice: 5, insetTop: 14 },
        marks: [
          leftAxis(panel.title, { ticks: 5 }),
          frame({ anchor: 'bottom', stroke: MUTED }),
          ...panelMarks(panel, steps),
          ...(last
            ? [
                axisX({
                  label: null,
                  tickSize: 0,
                  tickPadding: 9,
                  fontSize: 12,
                  lineHeight: 1.2,
                  tickFormat: (i: number) => wrapped[i]!.join('\n'),
                }),
              ]
            : []),
        ],
      },
      0,
      TOP + p * (PANEL + GAP),
    );
  });
  const under = TOP + GAP / 2 + panels.length * (PANEL + GAP) - GAP + 30 + names;
  const legend = legendStrip(legendItems(steps), 24, width - 20, under);
  return figure(
    'closure',
    { width, height: under + legend.height + 10 },
    { title: 'Virtual closure', desc: closureAlt(result) },
    label('Virtual closure: what is expected', 24, 26, { size: 16, bold: true }),
    ...drawn,
    legend.svg,
  );
}

interface Panel {
  title: string;
  series: Series[];
  fromZero: boolean;
  /** The largest possible value, such as 100 % saturation. */
  most?: number;
}

function panelsOf(): Panel[] {
  return [
    {
      title: 'Shunt (%)',
      fromZero: true,
      series: [{ of: (s) => s.shunt, shape: 'circle', colour: COLOURS.blue, shift: 0, digits: 1 }],
    },
    {
      title: 'SaO2 (%)',
      fromZero: false,
      most: 100,
      series: [
        { of: (s) => s.roomAir, shape: 'circle', colour: COLOURS.vermilion, shift: -22, digits: 1 },
        { of: (s) => s.onOxygen, shape: 'square', colour: COLOURS.green, shift: 22, digits: 1 },
      ],
    },
    {
      title: 'Mean PAP (mmHg)',
      fromZero: true,
      series: [
        {
          of: (s) => s.pressure,
          shape: 'triangle',
          colour: COLOURS.black,
          shift: 0,
          digits: 1,
          prefix: '≤ ',
        },
      ],
    },
  ];
}

/** Lowest and highest value of a panel's axis. */
function reach({ series, fromZero, most }: Panel, steps: readonly Step[]): [number, number] {
  const points = steps.flatMap((step) => series.flatMap((s) => s.of(step) ?? []));
  const lows = points.map((p) => p.interval?.[0] ?? p.value);
  const highs = points.map((p) => p.interval?.[1] ?? p.value);
  const room = (Math.max(...highs) - Math.min(...lows)) * 0.25 || 1;
  return [
    fromZero ? Math.min(0, ...lows) : Math.min(...lows) - room,
    Math.min(most ?? Number.POSITIVE_INFINITY, Math.max(...highs) + room),
  ];
}

function panelMarks(panel: Panel, steps: readonly Step[]): Markish[] {
  const empty = steps.flatMap((step, i) =>
    step.baseline || panel.series.some((series) => series.of(step)) ? [] : [i],
  );
  const marks = panel.series.flatMap((series) => {
    const points = steps.flatMap((step, at) => {
      const point = series.of(step);
      return point ? [{ at, ...point }] : [];
    });
    const ranged = points.filter((point) => point.interval);
    const common = { x: 'at', dx: series.shift };
    return [
      ...whiskersUp(ranged, {
        ...common,
        y1: (point: Point) => point.interval![0],
        y2: (point: Point) => point.interval![1],
        stroke: series.colour,
      }),
      dot(points, { ...common, y: 'value', symbol: SYMBOLS[series.shape], r: 6, fill: series.colour }),
      words(points, {
        ...common,
        y: (point: Point) => Math.max(point.value, point.interval?.[1] ?? point.value),
        text: (point: Point) => `${series.prefix ?? ''}${fixed(point.value, series.digits)}`,
        dy: -14,
        fontSize: 12,
      }),
    ];
  });
  return [
    ...marks,
    words(empty, {
      x: empty,
      text: empty.map(() => 'not computed'),
      frameAnchor: 'middle',
      fill: MUTED,
      fontSize: 11,
    }),
  ];
}

/** Symbols of equal visual weight; the triangle points down to mark an upper bound. */
const SYMBOLS = {
  circle: 'circle',
  square: { draw: (pen: Pen) => pen.rect(-5.5, -5.5, 11, 11) },
  triangle: {
    draw: (pen: Pen) => {
      pen.moveTo(-7, -6);
      pen.lineTo(7, -6);
      pen.lineTo(0, 6);
      pen.closePath();
    },
  },
} as const satisfies Record<Shape, SymbolType>;

const whisker = (x: number, low: number, high: number, colour: string): string =>
  line(x, low, x, high, colour, 1.5) +
  line(x - 5, low, x + 5, low, colour, 1.5) +
  line(x - 5, high, x + 5, high, colour, 1.5);

function mark(shape: Shape, x: number, y: number, colour: string): string {
  if (shape === 'circle') return element('circle', { cx: x, cy: y, r: 6, fill: colour });
  if (shape === 'square')
    return element('rect', { x: x - 5.5, y: y - 5.5, width: 11, height: 11, fill: colour });
  const points = `${fixed(x - 7, 2)},${fixed(y - 6, 2)} ${fixed(x + 7, 2)},${fixed(y - 6, 2)} ${fixed(x, 2)},${fixed(y + 6, 2)}`;
  return element('polygon', { points, fill: colour });
}

function legendItems(steps: readonly Step[]): LegendItem[] {
  const has = (of: (step: Step) => Point | undefined): boolean => steps.some((step) => of(step));
  const items = [
    { on: has((s) => s.shunt), text: 'shunt', shape: 'circle', colour: COLOURS.blue },
    { on: has((s) => s.roomAir), text: 'SaO2 on room air', shape: 'circle', colour: COLOURS.vermilion },
    { on: has((s) => s.onOxygen), text: 'SaO2 on oxygen', shape: 'square', colour: COLOURS.green },
    {
      on: has((s) => s.pressure),
      text: 'mean PA pressure, upper bound',
      shape: 'triangle',
      colour: COLOURS.black,
    },
  ] as const;
  return [
    ...items
      .filter((item) => item.on)
      .map((item) => ({
        text: item.text,
        sample: (x: number, y: number) => mark(item.shape, x + 14, y, item.colour),
      })),
    {
      text: 'bars: 95 % interval',
      sample: (x: number, y: number) => whisker(x + 14, y + 8, y - 8, COLOURS.black),
    },
  ];
}

function stepsOf(result: Result): Step[] {
  const steps = result.closure.map(stepOf);
  const hasBaseline = result.closure.some((step) => step.closed !== 'lobe' && step.closed.length === 0);
  const headline = headlineShunt(result);
  if (steps.length > 0 && !hasBaseline && headline?.fraction !== undefined) {
    const shunt = { value: percent(headline.fraction), interval: percentInterval(headline.interval) };
    return [{ name: 'before closure', baseline: true, shunt }, ...steps];
  }
  return steps;
}

function stepOf(step: Closure): Step {
  const point = (value: number | undefined, interval?: Interval): Point | undefined =>
    value === undefined ? undefined : { value, interval };
  const name =
    step.closed === 'lobe'
      ? 'whole lobe'
      : step.closed.length === 0
        ? 'nothing closed'
        : step.closed.join(' + ');
  const part =
    step.occlusion_percent !== undefined && step.occlusion_percent !== 100
      ? `, ${fixed(step.occlusion_percent, 0)} % occluded`
      : '';
  const { intervals } = step;
  return {
    name: name + part,
    shunt: point(
      step.shunt_fraction === undefined ? undefined : percent(step.shunt_fraction),
      percentInterval(intervals?.shunt_fraction),
    ),
    roomAir: point(step.so2_room_air_percent, intervals?.so2_room_air_percent),
    onOxygen: point(step.so2_on_oxygen_percent, intervals?.so2_on_oxygen_percent),
    pressure: point(step.mean_pa_pressure_mmhg, intervals?.mean_pa_pressure_mmhg),
  };
}
