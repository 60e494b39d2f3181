/** A diagram of both lungs from the front, with each lesion in its lobe. No surface of a lung is drawn. */
import { fixed } from '../../foundation/number-text.js';
import type { PatientLesion, PatientResult } from '../../result/patient-result.js';
import type { Figure } from '../figures/figures.js';
import { COLOURS, GRID, MUTED } from '../figures/palette.js';
import { element, figure, label, line } from '../figures/svg.js';

const SIZE = { width: 760, height: 500 };
const TOP = 70;
/** Outline of the lung on the right of the picture (the patient's left), px from its inner upper corner; the other is its mirror image. */
const OUTLINE =
  'M 30 0 C 90 -8 150 60 170 160 C 190 250 190 320 178 350 C 130 372 70 350 12 318 C 2 240 18 200 6 150 C 0 90 4 20 30 0 Z';
const MIDDLE = SIZE.width / 2;
const INNER = 20;
/** Middle of each lobe in the diagram, px from the inner upper corner. */
const PLACES: Record<string, readonly [x: number, y: number]> = {
  upper: [84, 90],
  middle: [74, 232],
  lingula: [74, 232],
  lower: [120, 296],
};
/** Offsets of further lesions of a lobe from the first. */
const BESIDE = [
  [0, 0],
  [46, 22],
  [-34, 30],
  [30, -36],
  [-40, -24],
  [56, -18],
] as const;

/** The diagram as `lungs.svg`; lesions without side or lobe are listed beneath. */
export function lungsFigure(result: PatientResult): Figure {
  const shown: string[] = [];
  const without: string[] = [];
  const taken = new Map<string, number>();
  const ids = [...result.order, ...Object.keys(result.lesions).filter((id) => !result.order.includes(id))];
  ids.forEach((id, i) => {
    const one = result.lesions[id];
    const place = one.lobe === undefined ? undefined : PLACES[one.lobe];
    if (one.side === undefined || place === undefined) {
      without.push(id);
      return;
    }
    const key = `${one.side} ${one.lobe}`;
    const before = taken.get(key) ?? 0;
    taken.set(key, before + 1);
    const [dx, dy] = BESIDE[before % BESIDE.length];
    shown.push(mark(id, i, one, [place[0] + dx, place[1] + dy]));
  });
  const title = 'All lesions in both lungs: a diagram, not a picture of this patient';
  const words = {
    title,
    desc: `${ids.map((id) => describe(id, result.lesions[id])).join('; ')}. Seen from the front; the patient's right is on the left.`,
  };
  const svg = figure(
    'lungs',
    SIZE,
    words,
    label(title, MIDDLE, 28, { anchor: 'middle', size: 16, bold: true }),
    label('R', 40, TOP + 16, { size: 18, bold: true }),
    label('L', SIZE.width - 40, TOP + 16, { anchor: 'end', size: 18, bold: true }),
    lung('left'),
    lung('right'),
    line(MIDDLE, TOP - 14, MIDDLE, TOP + 120, GRID, 10),
    ...shown,
    label('Filled: open. Ring: closed. Size: largest feeder. Number: order.', MIDDLE, SIZE.height - 40, {
      anchor: 'middle',
      size: 12,
      fill: MUTED,
    }),
    without.length > 0
      ? label(`Side or lobe not stated: ${without.join(', ')}`, MIDDLE, SIZE.height - 18, {
          anchor: 'middle',
          size: 12,
          fill: MUTED,
        })
      : '',
  );
  return { name: 'lungs.svg', alt: `${title}. ${words.desc}`, svg };
}

const describe = (id: string, { side, lobe, state }: PatientLesion): string =>
  `${id}: ${[side, lobe].filter((part) => part !== undefined).join(' ') || 'place not stated'}, ${state}`;

function lung(side: 'left' | 'right'): string {
  const place =
    side === 'left'
      ? `translate(${MIDDLE + INNER} ${TOP})`
      : `translate(${MIDDLE - INNER} ${TOP}) scale(-1 1)`;
  const stroke = { fill: 'none', stroke: GRID, 'stroke-width': 2, 'stroke-dasharray': '6 5' };
  return element(
    'g',
    { transform: place },
    element('path', { d: OUTLINE, fill: '#f6f6f6', stroke: MUTED, 'stroke-width': 2 }),
    // fissures: oblique on both sides, horizontal on the right
    element('path', { d: 'M 168 150 C 140 220 90 290 40 328', ...stroke }),
    side === 'right' ? element('path', { d: 'M 8 182 C 60 176 110 180 150 196', ...stroke }) : '',
  );
}

function mark(id: string, i: number, one: PatientLesion, [x, y]: readonly [number, number]): string {
  const across = one.side === 'left' ? MIDDLE + INNER + x : MIDDLE - INNER - x;
  const down = TOP + y;
  const radius = 6 + Math.min(10, (one.largest_feeder_mm ?? 3) * 0.9);
  const isOpen = one.state === 'open';
  const out = one.side === 'left' ? SIZE.width - 24 : 24;
  const anchor = one.side === 'left' ? 'end' : 'start';
  const size = one.largest_feeder_mm === undefined ? '' : `, ${fixed(one.largest_feeder_mm, 1)} mm`;
  return [
    line(across, down, one.side === 'left' ? SIZE.width - 170 : 170, down, MUTED, 1),
    element('circle', {
      cx: across,
      cy: down,
      r: radius,
      fill: isOpen ? COLOURS.vermilion : '#ffffff',
      stroke: COLOURS.vermilion,
      'stroke-width': 2.5,
    }),
    label(String(i + 1), across, down + 4, {
      anchor: 'middle',
      size: 12,
      bold: true,
      fill: isOpen ? '#ffffff' : COLOURS.vermilion,
    }),
    label(`${id}${size}`, out, down - 5, { anchor, size: 13 }),
    label(one.state, out, down + 12, { anchor, size: 11, fill: MUTED }),
  ].join('');
}
