import { scaleUtc } from 'd3-scale';
import type { Ready, Result } from '../../result/result.generated.js';
import { counted } from '../words.js';
import { legendStrip } from './axes.js';
import { COLOURS, GRID, hatch, MUTED } from './palette.js';
import { element, figure, fitText, label, line, textWidth, wrapText } from './svg.js';

interface Row {
  name: string;
  date?: string;
  plan: boolean;
  instead?: string;
}

const WIDTH = 800;
const LABELS = 230;
const ROW = 36;
const DAY_MS = 86_400_000;

/** A calendar date as UTC midnight; undefined unless it is a real `YYYY-MM-DD`. No clock, no time zone. */
function dayOf(date: string | undefined): Date | undefined {
  if (!date || !/^\d{4}-\d{2}-\d{2}$/.test(date)) return undefined;
  const time = Date.parse(`${date}T00:00:00Z`);
  return Number.isNaN(time) ? undefined : new Date(time);
}

const isoDay = (date: Date): string => date.toISOString().slice(0, 10);

/** What the timeline shows, in words. */
export function readinessAlt(result: Result): string {
  const rows = rowsOf(result).map((row) => `${row.name}: ${row.date ?? row.instead}.`);
  return `When each plan and each ordered item can be ready, counted from ${result.today.date ?? 'an unknown date'}. ${rows.join(' ')}`;
}

/** Draws from today to the day each plan, and each ordered item, is ready. Undefined when 'today' has no date. */
export function readinessTimelineSvg(result: Result): string | undefined {
  const today = dayOf(result.today.date);
  if (!today) return undefined;
  const rows = rowsOf(result);
  const dates = rows.flatMap((row) => dayOf(row.date) ?? []);
  const last = Math.max(today.getTime() + 7 * DAY_MS, ...dates.map((date) => date.getTime()));
  const [left, right, top] = [LABELS, WIDTH - 120, 56];
  const bottom = top + rows.length * ROW;
  const x = scaleUtc([today, new Date(last)], [left, right]);
  const ticks = x.ticks(4).map((tick) => {
    const at = x(tick);
    return (
      line(at, top, at, bottom, GRID) +
      line(at, bottom, at, bottom + 5, MUTED) +
      label(isoDay(tick), at, bottom + 20, { anchor: 'middle', size: 12 })
    );
  });
  const legend = legendStrip(
    [
      { text: 'plan', sample: (at, y) => bar(at, at + 28, y, COLOURS.blue) },
      { text: 'item on the order list', sample: (at, y) => bar(at, at + 28, y, 'url(#readiness-hatch)') },
      { text: 'ready', sample: (at, y) => diamond(at + 14, y) },
    ],
    24,
    WIDTH - 20,
    bottom + 52,
  );
  return figure(
    'readiness',
    { width: WIDTH, height: bottom + 52 + legend.height + 10 },
    { title: 'Readiness', desc: readinessAlt(result) },
    hatch('readiness-hatch', COLOURS.orange, 45),
    label(`Ready by when, counted from ${isoDay(today)}`, 24, 26, { size: 16, bold: true }),
    ...ticks,
    line(left, bottom, right, bottom, MUTED),
    label('Date', (left + right) / 2, bottom + 40, { anchor: 'middle' }),
    ...rows.map((row, i) => drawRow(row, top + i * ROW + ROW / 2, x, left)),
    line(left, top, left, bottom, COLOURS.black, 2),
    label('today', left, top - 5, { anchor: 'middle', size: 12 }),
    legend.svg,
  );
}

const bar = (from: number, to: number, y: number, fill: string): string =>
  element('rect', {
    x: from,
    y: y - 7,
    width: Math.max(1, to - from),
    height: 14,
    fill,
    stroke: COLOURS.black,
  });

const diamond = (x: number, y: number): string =>
  element('rect', {
    x: x - 6,
    y: y - 6,
    width: 12,
    height: 12,
    fill: COLOURS.black,
    transform: `rotate(45 ${x.toFixed(2)} ${y.toFixed(2)})`,
  });

function drawRow(row: Row, y: number, x: ReturnType<typeof scaleUtc<number, number>>, left: number): string {
  const name = label(fitText(row.name, LABELS - 24), left - 12, y + 4, { anchor: 'end', bold: row.plan });
  const date = dayOf(row.date);
  if (!date) {
    const lines = wrapText(row.instead ?? row.date ?? 'no date', WIDTH - left - 24, 2, 12);
    return (
      name +
      lines
        .map((text, i) =>
          label(text, left + 10, y + 4 + (i - (lines.length - 1) / 2) * 14, { size: 12, halo: true }),
        )
        .join('')
    );
  }
  const at = Math.max(left, x(date));
  const text = isoDay(date);
  const labelX = Math.min(at + 14, WIDTH - 10 - textWidth(text));
  return (
    name +
    bar(left, at, y, row.plan ? COLOURS.blue : 'url(#readiness-hatch)') +
    diamond(at, y) +
    label(text, labelX, y + 4, { halo: true })
  );
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
