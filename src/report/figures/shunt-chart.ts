import { scaleLinear } from 'd3-scale';
import { fixed, rangeText } from '../../foundation/number-text.js';
import type { Result, Shunt } from '../../result/result.generated.js';
import { type Interval, percent, percentInterval } from '../words.js';
import { type Box, bottomAxis, legendStrip } from './axes.js';
import { COLOURS, hatch } from './palette.js';
import { element, figure, label, line, wrapText } from './svg.js';

interface Row {
  text: string;
  percent?: number;
  interval?: Interval;
  /** The answer itself, or one shown for comparison. */
  main: boolean;
  instead?: string;
}

const WIDTH = 800;
const LABELS = 290;
const ROW = 46;
/** The axis reaches beyond the largest value, so that its printed interval fits behind the bar. */
const LABEL_ROOM = (WIDTH - LABELS - 30) / (WIDTH - LABELS - 30 - 210);

const METHOD: Record<Shunt['method'], string> = {
  content: 'full oxygen contents',
  dissolved: 'dissolved oxygen only',
  'room-air': 'full contents, not on 100 % oxygen',
};

/** What the shunt chart shows, in words. */
export function shuntAlt(result: Result): string {
  return `Right-to-left shunt as percent of cardiac output. ${rowsOf(result)
    .map((row) => `${row.text}: ${row.percent === undefined ? row.instead : valueText(row)}.`)
    .join(' ')}`;
}

/**
 * Draws the shunt with its 95 % interval, and beside it the other ways of reading the same sample.
 * Undefined when the result holds no shunt number.
 */
export function shuntChartSvg(result: Result): string | undefined {
  const rows = rowsOf(result);
  const largest = Math.max(
    ...rows.map((row) => row.interval?.[1] ?? row.percent ?? Number.NEGATIVE_INFINITY),
  );
  if (!Number.isFinite(largest)) return undefined;
  const box: Box = { left: LABELS, right: WIDTH - 30, top: 48, bottom: 48 + rows.length * ROW };
  const smallest = Math.min(0, ...rows.map((row) => row.interval?.[0] ?? 0));
  const x = scaleLinear([smallest, Math.max(5, largest) * LABEL_ROOM], [box.left, box.right]).nice();
  const legend = legendStrip(
    [
      { text: 'answer of this plan', sample: swatch(COLOURS.blue) },
      { text: 'for comparison only', sample: swatch('url(#shunt-hatch)') },
      { text: '95 % interval', sample: (at, y) => whisker(at, at + 28, y) },
    ],
    box.left,
    box.right,
    box.bottom + 52,
  );
  return figure(
    'shunt',
    { width: WIDTH, height: box.bottom + 52 + legend.height + 10 },
    { title: 'Right-to-left shunt', desc: shuntAlt(result) },
    hatch('shunt-hatch', COLOURS.orange, 45),
    label('Right-to-left shunt (Qs/Qt)', 20, 26, { size: 16, bold: true }),
    bottomAxis(x, box, 'Shunt (% of cardiac output)'),
    ...rows.map((row, i) => drawRow(row, box.top + i * ROW + ROW / 2, x, box)),
    line(x(0), box.top, x(0), box.bottom, COLOURS.black),
    legend.svg,
  );
}

const swatch = (fill: string) => (x: number, y: number) =>
  element('rect', { x, y: y - 6, width: 28, height: 12, fill, stroke: COLOURS.black });

const whisker = (from: number, to: number, y: number): string =>
  line(from, y, to, y, COLOURS.black, 2) +
  line(from, y - 6, from, y + 6, COLOURS.black, 2) +
  line(to, y - 6, to, y + 6, COLOURS.black, 2);

const valueText = (row: Row): string =>
  `${fixed(row.percent ?? 0, 1)} %${row.interval ? ` (${rangeText(row.interval, 1, '%')})` : ''}`;

function drawRow(row: Row, y: number, x: ReturnType<typeof scaleLinear<number, number>>, box: Box): string {
  const names = wrapText(row.text, LABELS - 40, 2);
  const name = names.map((text, i) =>
    label(text, box.left - 12, y + 4 + (i - (names.length - 1) / 2) * 16, { anchor: 'end', bold: row.main }),
  );
  if (row.percent === undefined) {
    const lines = wrapText(row.instead ?? '', box.right - box.left - 16, 2, 12);
    const why = lines.map((text, i) =>
      label(text, box.left + 8, y + 4 + (i - (lines.length - 1) / 2) * 15, { size: 12, halo: true }),
    );
    return [...name, ...why].join('');
  }
  const [from, to] = [Math.min(x(0), x(row.percent)), Math.max(x(0), x(row.percent))];
  const bar = element('rect', {
    x: from,
    y: y - 11,
    width: Math.max(1, to - from),
    height: 22,
    fill: row.main ? COLOURS.blue : 'url(#shunt-hatch)',
    stroke: COLOURS.black,
  });
  const range = row.interval ? whisker(x(row.interval[0]), x(row.interval[1]), y) : '';
  const end = Math.max(to, row.interval ? x(row.interval[1]) : to);
  return [...name, bar, range, label(valueText(row), end + 8, y + 4, { halo: true })].join('');
}

function rowsOf(result: Result): Row[] {
  const rows: Row[] = [];
  const add = (shunt: Shunt | undefined, when: string): void => {
    if (!shunt) return;
    rows.push({
      text: `${when}: ${METHOD[shunt.method]}`,
      percent: shunt.fraction === undefined ? undefined : percent(shunt.fraction),
      interval: percentInterval(shunt.interval),
      main: true,
      instead: `not computed: ${shunt.absent_because ?? 'no reason given'}`,
    });
    const short = shunt.dissolved_only;
    if (short) {
      rows.push({
        text: `${when}: dissolved oxygen only`,
        percent: short.fraction === undefined ? undefined : percent(short.fraction),
        main: false,
        instead: `refused: ${short.refused_because ?? 'no reason given'}`,
      });
    }
    if (shunt.other_saturation) {
      rows.push({
        text: `${when}: ${shunt.other_saturation.basis}`,
        percent: percent(shunt.other_saturation.fraction),
        main: false,
      });
    }
    for (const other of shunt.sensitivity ?? []) {
      rows.push({
        text: `${when}: with a-v difference ${fixed(other.av_difference_ml_dl, 1)} mL/dL`,
        percent: percent(other.fraction),
        main: false,
      });
    }
  };
  add(result.shunt, 'Before');
  add(result.shunt_after, 'After');
  return rows;
}
