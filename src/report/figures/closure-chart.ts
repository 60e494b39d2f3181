import { scaleLinear } from 'd3-scale';
import { fixed } from '../../foundation/number-text.js';
import type { Closure, Result } from '../../result/result.generated.js';
import { type Interval, percent, percentInterval } from '../words.js';
import { type Box, leftAxis, legendStrip } from './axes.js';
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
  /** Where the mark stands in its column, px from the middle. */
  shift: number;
  digits: number;
  prefix?: string;
}

const PANEL = 150;
const GAP = 34;
const LEFT = 84;

/** What the closure chart shows, in words. */
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

/** Draws shunt, saturation and pressure for each closure step, one panel each. Undefined when nothing was computed. */
export function closureChartSvg(result: Result): string | undefined {
  const steps = stepsOf(result);
  const panels = panelsOf().filter((panel) => panel.series.some((s) => steps.some((step) => s.of(step))));
  if (steps.length === 0 || panels.length === 0) return undefined;
  const column = Math.max(96, Math.min(170, 680 / steps.length));
  const width = Math.max(520, LEFT + column * steps.length + 30);
  const right = LEFT + column * steps.length;
  const centre = (i: number): number => LEFT + column * (i + 0.5);
  const drawn = panels.map((panel, p) => {
    const top = 60 + p * (PANEL + GAP);
    const box: Box = { left: LEFT, right, top, bottom: top + PANEL };
    return drawPanel(panel, steps, box, centre);
  });
  const bottom = 60 + panels.length * (PANEL + GAP) - GAP;
  const wrapped = steps.map((step) => wrapText(step.name, column - 8, 3, 12));
  const names = wrapped.map((lines, i) =>
    lines
      .map((text, row) => label(text, centre(i), bottom + 20 + row * 15, { anchor: 'middle', size: 12 }))
      .join(''),
  );
  const under = bottom + 30 + Math.max(...wrapped.map((lines) => lines.length)) * 15;
  const legend = legendStrip(legendItems(steps), 24, width - 20, under);
  return figure(
    'closure',
    { width, height: under + legend.height + 10 },
    { title: 'Virtual closure', desc: closureAlt(result) },
    label('Virtual closure: what is expected', 24, 26, { size: 16, bold: true }),
    ...drawn,
    ...names,
    legend.svg,
  );
}

interface Panel {
  title: string;
  series: Series[];
  fromZero: boolean;
  /** The largest value there can be, such as 100 % saturation. */
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

function drawPanel(panel: Panel, steps: readonly Step[], box: Box, centre: (i: number) => number): string {
  const points = steps.flatMap((step) => panel.series.map((s) => s.of(step)).filter((p) => p !== undefined));
  const lows = points.map((p) => p.interval?.[0] ?? p.value);
  const highs = points.map((p) => p.interval?.[1] ?? p.value);
  const room = (Math.max(...highs) - Math.min(...lows)) * 0.25 || 1;
  const low = panel.fromZero ? Math.min(0, ...lows) : Math.min(...lows) - room;
  const high = Math.min(panel.most ?? Number.POSITIVE_INFINITY, Math.max(...highs) + room);
  const y = scaleLinear([low, high], [box.bottom, box.top + 14]).nice(5);
  const marks = steps.flatMap((step, i) => {
    const own = panel.series.flatMap((series) => {
      const point = series.of(step);
      if (!point) return [];
      const x = centre(i) + series.shift;
      const range = point.interval
        ? whisker(x, y(point.interval[0]), y(point.interval[1]), series.colour)
        : '';
      const top = Math.min(y(point.value), point.interval ? y(point.interval[1]) : y(point.value)) - 9;
      const text = `${series.prefix ?? ''}${fixed(point.value, series.digits)}`;
      return [
        range +
          mark(series.shape, x, y(point.value), series.colour) +
          label(text, x, top, { anchor: 'middle', size: 12, halo: true }),
      ];
    });
    return own.length > 0 || step.baseline
      ? own
      : [
          label('not computed', centre(i), (box.top + box.bottom) / 2, {
            anchor: 'middle',
            size: 11,
            fill: MUTED,
            halo: true,
          }),
        ];
  });
  return [
    leftAxis(y, box, panel.title, 5),
    line(box.left, box.bottom, box.right, box.bottom, MUTED),
    ...marks,
  ].join('');
}

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

function legendItems(steps: readonly Step[]): { text: string; sample: (x: number, y: number) => string }[] {
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
  if (steps.length > 0 && !hasBaseline && result.shunt?.fraction !== undefined) {
    const shunt = { value: percent(result.shunt.fraction), interval: percentInterval(result.shunt.interval) };
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
