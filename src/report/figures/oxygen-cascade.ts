import { axisX, barY, frame } from '@observablehq/plot';
import { fixed } from '../../foundation/number-text.js';
import { headlineShunt } from '../../result/headline.js';
import type { Result } from '../../result/result.generated.js';
import { percent } from '../words.js';
import { chart, leftAxis, words } from './chart.js';
import { COLOURS, hatch, MUTED } from './palette.js';
import { FONT_SIZE, figure, label, wrapText } from './svg.js';

const WIDTH = 800;
const MARGIN = { left: 84, right: 24, top: 16, bottom: 66 };
const PLOT_HEIGHT = 260;

interface Bar {
  name: string;
  value: number;
  fill: string;
  note?: string;
}

/** The content of the oxygen chart, in words. */
export function oxygenAlt(result: Result): string {
  const bars = barsOf(result)
    .map((bar) => `${bar.name} ${fixed(bar.value, 1)} mL/dL`)
    .join(', ');
  const fraction = headlineShunt(result)?.fraction;
  const mixing =
    fraction === undefined
      ? ''
      : ` Arterial blood is ${fixed(percent(fraction), 1)} % shunted mixed venous blood and ${fixed(percent(1 - fraction), 1)} % end-capillary blood.`;
  return `Oxygen content from lung to artery: ${bars}.${mixing}`;
}

/**
 * Draws the oxygen contents of end-capillary, arterial and mixed venous blood: arterial blood is the mixture of the other two, and its
 * position between them gives the shunt. Undefined unless the result holds all three.
 */
export function oxygenCascadeSvg(result: Result): string | undefined {
  const bars = barsOf(result);
  if (bars.length < 3) return undefined;
  const column = (WIDTH - MARGIN.left - MARGIN.right) / bars.length;
  const columns = bars.map((_, i) => i);
  const plotted = chart(
    {
      width: WIDTH,
      height: MARGIN.top + PLOT_HEIGHT + MARGIN.bottom,
      marginLeft: MARGIN.left,
      marginRight: MARGIN.right,
      marginTop: MARGIN.top,
      marginBottom: MARGIN.bottom,
      x: { type: 'band', domain: columns, padding: 0 },
      y: { domain: [0, Math.max(...bars.map((bar) => bar.value)) * 1.12], nice: true },
      marks: [
        leftAxis('Oxygen content (mL/dL)'),
        ...bars.map((bar, i) =>
          barY([bar], {
            x: [i],
            y: 'value',
            fill: bar.fill,
            stroke: COLOURS.black,
            insetLeft: column / 2 - 45,
            insetRight: column / 2 - 45,
          }),
        ),
        words(bars, {
          x: columns,
          y: 'value',
          text: (bar: Bar) => `${fixed(bar.value, 1)} mL/dL`,
          dy: -12,
          fontWeight: 'bold',
        }),
        axisX({ label: null, tickSize: 0, fontSize: FONT_SIZE, tickFormat: (i: number) => bars[i]!.name }),
        words(bars, {
          x: columns,
          frameAnchor: 'bottom',
          text: (bar: Bar) => wrapText(bar.note ?? '', column - 10, 2, 12).join('\n'),
          lineAnchor: 'top',
          dy: 28,
          fontSize: 12,
        }),
        frame({ anchor: 'bottom', stroke: MUTED }),
      ],
    },
    0,
    42,
  );
  return figure(
    'oxygen',
    { width: WIDTH, height: 42 + MARGIN.top + PLOT_HEIGHT + MARGIN.bottom },
    { title: 'Oxygen content from lung to artery', desc: oxygenAlt(result) },
    hatch('oxygen-artery', COLOURS.orange, 45),
    hatch('oxygen-vein', COLOURS.blue, -45, 8),
    label('Oxygen content from lung to artery', 24, 26, { size: 16, bold: true }),
    plotted,
  );
}

function barsOf(result: Result): Bar[] {
  const shunt = headlineShunt(result);
  const contents: [string, number | undefined, string, string | undefined][] = [
    [
      'end-capillary (Cc′O2)',
      shunt?.end_capillary_content_ml_dl,
      COLOURS.skyBlue,
      shunt?.alveolar_po2_mmhg === undefined ? undefined : `PAO2 ${fixed(shunt.alveolar_po2_mmhg, 0)} mmHg`,
    ],
    [
      'arterial (CaO2)',
      shunt?.arterial_content_ml_dl,
      'url(#oxygen-artery)',
      shunt?.fraction === undefined
        ? undefined
        : `contains ${fixed(percent(shunt.fraction), 1)} % shunted blood`,
    ],
    [
      'mixed venous (CvO2)',
      shunt?.venous_content_ml_dl,
      'url(#oxygen-vein)',
      shunt?.av_difference_ml_dl === undefined
        ? undefined
        : `a-v difference ${fixed(shunt.av_difference_ml_dl, 1)} mL/dL`,
    ],
  ];
  return contents.flatMap(([name, value, fill, note]) =>
    value === undefined ? [] : [{ name, value, fill, note }],
  );
}
