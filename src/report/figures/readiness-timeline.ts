import { axisX, barX, dot, frame, gridX, type Markish, ruleX } from '@observablehq/plot';
import type { Ready, Result } from '../../result/result.generated.js';
import { counted } from '../words.js';
import { chart, words } from './chart.js';
import { legendStrip } from './legend.js';
import { COLOURS, GRID, hatch, MUTED } from './palette.js';
import { element, FONT_SIZE, figure, fitText, label, textWidth, wrapText } from './svg.js';

interface Row {
  name: string;
  date?: string;
  plan: boolean;
  instead?: string;
}

const WIDTH = 800;
const LABELS = 230;
const ROW = 36;
const MARGIN = { right: 120, top: 20, bottom: 46 };
const PLOT_WIDTH = WIDTH - LABELS - MARGIN.right;
const DAY_MS = 86_400_000;

/** A calendar date as UTC midnight; undefined unless it is a real `YYYY-MM-DD`. No clock, no time zone. */
function dayOf(date: string | undefined): Date | undefined {
  if (!date || !/^\d{4}-\d{2}-\d{2}$/.test(date)) return undefined;
  const time = Date.parse(`${date}T00:00:00Z`);
  return Number.isNaN(time) ? undefined : new Date(time);
}

const isoDay = (date: Date): string => date.toISOString().slice(0, 10);

/** The content of the timeline, in words. */
export function readinessAlt(result: Result): string {
  const rows = rowsOf(result).map((row) => `${row.name}: ${row.date ?? row.instead}.`);
  return `When each plan and each ordered item can be ready, counted from ${result.today.date ?? 'an unknown date'}. ${rows.join(' ')}`;
}

/** Draws the time from today to the day on which each plan, and each ordered item, is ready. Undefined if 'today' has no date. */
export function readinessTimelineSvg(result: Result): string | undefined {
  const today = dayOf(result.today.date);
  if (!today) return undefined;
  const rows = rowsOf(result);
  const dates = rows.flatMap((row) => dayOf(row.date) ?? []);
  const last = Math.max(today.getTime() + 7 * DAY_MS, ...dates.map((date) => date.getTime()));
  const span: Span = { from: today.getTime(), to: last };
  const height = MARGIN.top + rows.length * ROW + MARGIN.bottom;
  const plotted = chart(
    {
      width: WIDTH,
      height,
      marginLeft: LABELS,
      marginRight: MARGIN.right,
      marginTop: MARGIN.top,
      marginBottom: MARGIN.bottom,
      x: { type: 'utc', domain: [today, new Date(last)] },
      y: { type: 'band', domain: rows.map((_, i) => i), axis: null, paddingInner: 0.6, paddingOuter: 0.3 },
      marks: [
        gridX({ stroke: GRID, strokeOpacity: 1, ticks: 4 }),
        axisX({
          label: 'Date',
          labelAnchor: 'center',
          labelArrow: 'none',
          labelOffset: 40,
          fontSize: FONT_SIZE - 1,
          ticks: 4,
          tickSize: 5,
          tickPadding: 5,
          stroke: MUTED,
          tickFormat: isoDay,
        }),
        frame({ anchor: 'bottom', stroke: MUTED }),
        ...rows.flatMap((row, i) => rowMarks(row, i, span)),
        ruleX([today], { stroke: COLOURS.black, strokeWidth: 2 }),
        words([today], { x: [today], frameAnchor: 'top', text: ['today'], dy: -9, fontSize: 12 }),
      ],
    },
    0,
    36,
  );
  const legend = legendStrip(
    [
      { text: 'plan', sample: (at, y) => bar(at, y, COLOURS.blue) },
      { text: 'item on the order list', sample: (at, y) => bar(at, y, ORDERED) },
      { text: 'ready', sample: (at, y) => diamond(at + 14, y) },
    ],
    24,
    WIDTH - 20,
    36 + height + 6,
  );
  return figure(
    'readiness',
    { width: WIDTH, height: 36 + height + 6 + legend.height + 10 },
    { title: 'Readiness', desc: readinessAlt(result) },
    hatch('readiness-hatch', COLOURS.orange, 45),
    label(`Ready by when, counted from ${isoDay(today)}`, 24, 26, { size: 16, bold: true }),
    plotted,
    legend.svg,
  );
}

/** First and last day of the axis, ms. */
interface Span {
  from: number;
  to: number;
}

const ORDERED = 'url(#readiness-hatch)';

const bar = (x: number, y: number, fill: string): string =>
  element('rect', { x, y: y - 7, width: 28, height: 14, fill, stroke: COLOURS.black });

const diamond = (x: number, y: number): string =>
  element('path', { d: `M${x} ${y - 8}l8 8l-8 8l-8 -8Z`, fill: COLOURS.black });

function rowMarks(row: Row, i: number, { from, to }: Span): Markish[] {
  const name = words([i], {
    y: [i],
    frameAnchor: 'left',
    text: [fitText(row.name, LABELS - 24)],
    dx: -12,
    textAnchor: 'end',
    fontWeight: row.plan ? 'bold' : 'normal',
  });
  const date = dayOf(row.date);
  if (!date) {
    const why = wrapText(row.instead ?? row.date ?? 'no date', WIDTH - LABELS - 24, 2, 12).join('\n');
    return [
      name,
      words([i], { y: [i], frameAnchor: 'left', text: [why], dx: 10, textAnchor: 'start', fontSize: 12 }),
    ];
  }
  const ready = new Date(Math.max(from, date.getTime()));
  const text = isoDay(date);
  const at = LABELS + ((ready.getTime() - from) / (to - from)) * PLOT_WIDTH;
  return [
    name,
    barX([row], {
      x1: [new Date(from)],
      x2: [ready],
      y: [i],
      fill: row.plan ? COLOURS.blue : ORDERED,
      stroke: COLOURS.black,
    }),
    dot([row], { x: [ready], y: [i], symbol: 'diamond2', r: 8, fill: COLOURS.black }),
    words([row], {
      x: [ready],
      y: [i],
      text: [text],
      dx: Math.min(14, WIDTH - 10 - textWidth(text) - at),
      textAnchor: 'start',
    }),
  ];
}

function rowsOf(result: Result): Row[] {
  const { plan_a, plan_b, order_list } = result.readiness;
  const plan = (name: string, ready: Ready): Row => ({
    name,
    plan: true,
    date: ready.ready_by ?? (ready.ready_today ? result.today.date : undefined),
    instead: `no date: ${ready.ready_by_absent_because ?? 'the result gives no reason'}`,
  });
  return [
    plan('Plan A: embolise', plan_a),
    plan('Plan B: resect', plan_b),
    ...(order_list ?? []).map((order) => ({
      name: `${order.item}, ${counted(order.count, 'piece')}`,
      plan: false,
      date: order.ready_by,
      instead: 'no date: lead time not known',
    })),
  ];
}
