import { scaleLinear } from 'd3-scale';
import { fixed } from '../../foundation/number-text.js';
import type { Result } from '../../result/result.generated.js';
import { percent } from '../words.js';
import { type Box, leftAxis } from './axes.js';
import { COLOURS, hatch, MUTED } from './palette.js';
import { element, figure, label, line, wrapText } from './svg.js';

const WIDTH = 800;

interface Bar {
  name: string;
  value: number;
  fill: string;
  note?: string;
}

/** What the oxygen chart shows, in words. */
export function oxygenAlt(result: Result): string {
  const bars = barsOf(result)
    .map((bar) => `${bar.name} ${fixed(bar.value, 1)} mL/dL`)
    .join(', ');
  const fraction = result.shunt?.fraction;
  const mixing =
    fraction === undefined
      ? ''
      : ` Arterial blood is ${fixed(percent(fraction), 1)} % shunted mixed venous blood and ${fixed(percent(1 - fraction), 1)} % end-capillary blood.`;
  return `Oxygen content from lung to artery: ${bars}.${mixing}`;
}

/**
 * Draws the oxygen contents of end-capillary, arterial and mixed venous blood: arterial blood is the mixture of the
 * other two, and the shunt is where it stands between them. Undefined unless all three contents are in the result.
 */
export function oxygenCascadeSvg(result: Result): string | undefined {
  const bars = barsOf(result);
  if (bars.length < 3) return undefined;
  const box: Box = { left: 84, right: WIDTH - 24, top: 58, bottom: 318 };
  const y = scaleLinear([0, Math.max(...bars.map((bar) => bar.value)) * 1.12], [box.bottom, box.top]).nice();
  const column = (box.right - box.left) / bars.length;
  const drawn = bars.map((bar, i) => {
    const centre = box.left + column * (i + 0.5);
    const notes = wrapText(bar.note ?? '', column - 10, 2, 12);
    return [
      element('rect', {
        x: centre - 45,
        y: y(bar.value),
        width: 90,
        height: box.bottom - y(bar.value),
        fill: bar.fill,
        stroke: COLOURS.black,
      }),
      label(`${fixed(bar.value, 1)} mL/dL`, centre, y(bar.value) - 8, {
        anchor: 'middle',
        bold: true,
        halo: true,
      }),
      label(bar.name, centre, box.bottom + 20, { anchor: 'middle' }),
      ...notes.map((text, row) =>
        label(text, centre, box.bottom + 38 + row * 15, { anchor: 'middle', size: 12 }),
      ),
    ].join('');
  });
  return figure(
    'oxygen',
    { width: WIDTH, height: box.bottom + 66 },
    { title: 'Oxygen content from lung to artery', desc: oxygenAlt(result) },
    hatch('oxygen-artery', COLOURS.orange, 45),
    hatch('oxygen-vein', COLOURS.blue, -45, 8),
    label('Oxygen content from lung to artery', 24, 26, { size: 16, bold: true }),
    leftAxis(y, box, 'Oxygen content (mL/dL)'),
    line(box.left, box.bottom, box.right, box.bottom, MUTED),
    ...drawn,
  );
}

function barsOf(result: Result): Bar[] {
  const shunt = result.shunt;
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
