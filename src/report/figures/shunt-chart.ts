import { barX, type Markish, ruleX } from '@observablehq/plot';
import { fixed, rangeText } from '../../foundation/number-text.js';
import type { Result, Shunt } from '../../result/result.generated.js';
import { type Interval, percent, percentInterval } from '../words.js';
import { bottomAxis, chart, whiskersLevel, words } from './chart.js';
import { legendStrip } from './legend.js';
import { COLOURS, hatch } from './palette.js';
import { element, figure, label, line, wrapText } from './svg.js';

interface Row {
  text: string;
  percent?: number;
  interval?: Interval;
  /** The answer, or one shown for comparison. */
  main: boolean;
  instead?: string;
}

const WIDTH = 800;
const LABELS = 290;
const ROW = 46;
const RIGHT = 30;
const TOP = 48;
/** Height of the axis below the bars, px. */
const AXIS = 46;
/** The axis extends beyond the largest value, so that its printed interval fits after the bar. */
const LABEL_ROOM = (WIDTH - LABELS - RIGHT) / (WIDTH - LABELS - RIGHT - 210);

const METHOD: Record<Shunt['method'], string> = {
  content: 'full oxygen contents',
  dissolved: 'dissolved oxygen only',
  'room-air': 'full contents, not on 100 % oxygen',
};

/** The content of the shunt chart, in words. */
export function shuntAlt(result: Result): string {
  return `Right-to-left shunt as percent of cardiac output. ${rowsOf(result)
    .map((row) => `${row.text}: ${row.percent === undefined ? row.instead : valueText(row)}.`)
    .join(' ')}`;
}

/**
 * Draws the shunt with its 95 % interval, together with the other ways of reading the same sample.
 * Undefined if the result holds no shunt number.
 */
export function shuntChartSvg(result: Result): string | undefined {
  const rows = rowsOf(result);
  const largest = Math.max(
    ...rows.map((row) => row.interval?.[1] ?? row.percent ?? Number.NEGATIVE_INFINITY),
  );
  if (!Number.isFinite(largest)) return undefined;
  const smallest = Math.min(0, ...rows.map((row) => row.interval?.[0] ?? 0));
  const under = TOP + rows.length * ROW + AXIS + 6;
  const legend = legendStrip(
    [
      { text: 'answer of this plan', sample: swatch(COLOURS.blue) },
      { text: 'for comparison only', sample: swatch(COMPARED) },
      { text: '95 % interval', sample: (at, y) => whisker(at, at + 28, y) },
    ],
    LABELS,
    WIDTH - RIGHT,
    under,
  );
  const plotted = chart(
    {
      width: WIDTH,
      height: rows.length * ROW + AXIS,
      marginLeft: LABELS,
      marginRight: RIGHT,
      marginTop: 0,
      marginBottom: AXIS,
      x: { domain: [smallest, Math.max(5, largest) * LABEL_ROOM], nice: true },
      y: { type: 'band', domain: rows.map((_, i) => i), axis: null, paddingInner: 0.52, paddingOuter: 0.26 },
      marks: [
        bottomAxis('Shunt (% of cardiac output)'),
        ...rows.flatMap(rowMarks),
        ruleX([0], { stroke: COLOURS.black }),
      ],
    },
    0,
    TOP,
  );
  return figure(
    'shunt',
    { width: WIDTH, height: under + legend.height + 10 },
    { title: 'Right-to-left shunt', desc: shuntAlt(result) },
    hatch('shunt-hatch', COLOURS.orange, 45),
    label('Right-to-left shunt (Qs/Qt)', 20, 26, { size: 16, bold: true }),
    plotted,
    legend.svg,
  );
}

const COMPARED = 'url(#shunt-hatch)';

const swatch = (fill: string) => (x: number, y: number) =>
  element('rect', { x, y: y - 6, width: 28, height: 12, fill, stroke: COLOURS.black });

const whisker = (from: number, to: number, y: number): string =>
  line(from, y, to, y, COLOURS.black, 2) +
  line(from, y - 6, from, y + 6, COLOURS.black, 2) +
  line(to, y - 6, to, y + 6, COLOURS.black, 2);

const valueText = (row: Row): string =>
  `${fixed(row.percent ?? 0, 1)} %${row.interval ? ` (${rangeText(row.interval, 1, '%')})` : ''}`;

function rowMarks(row: Row, i: number): Markish[] {
  const name = words([i], {
    y: [i],
    frameAnchor: 'left',
    text: [wrapText(row.text, LABELS - 40, 2).join('\n')],
    dx: -12,
    textAnchor: 'end',
    fontWeight: row.main ? 'bold' : 'normal',
  });
  if (row.percent === undefined) {
    const why = wrapText(row.instead ?? '', WIDTH - LABELS - RIGHT - 16, 3, 12).join('\n');
    return [
      name,
      words([i], { y: [i], frameAnchor: 'left', text: [why], dx: 8, textAnchor: 'start', fontSize: 12 }),
    ];
  }
  const end = Math.max(0, row.percent, row.interval?.[1] ?? row.percent);
  return [
    name,
    barX([row], {
      x1: [0],
      x2: [row.percent],
      y: [i],
      fill: row.main ? COLOURS.blue : COMPARED,
      stroke: COLOURS.black,
    }),
    ...(row.interval
      ? whiskersLevel([row], {
          x1: [row.interval[0]],
          x2: [row.interval[1]],
          y: [i],
          stroke: COLOURS.black,
        })
      : []),
    words([row], { x: [end], y: [i], text: [valueText(row)], dx: 8, textAnchor: 'start' }),
  ];
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
        text: `${when}: a-v difference ${fixed(other.av_difference_ml_dl, 1)} mL/dL`,
        percent: percent(other.fraction),
        main: false,
      });
    }
  };
  if (result.baseline === 'after') {
    add(result.shunt_after, 'After');
    add(result.shunt, 'Before');
  } else {
    add(result.shunt, 'Before');
    add(result.shunt_after, 'After');
  }
  return rows;
}
