import { scaleLinear } from 'd3-scale';
import { area, line as curve } from 'd3-shape';
import { fixed, rangeText } from '../../foundation/number-text.js';
import type { Device, Vessel } from '../../result/result.generated.js';
import { compareNames, ROLE_WORDS, trimmed } from '../words.js';
import { type Box, bottomAxis, type LegendItem, labelRows, leftAxis, legendStrip } from './axes.js';
import { COLOURS, hatch, MUTED } from './palette.js';
import { element, figure, fitText, label, line, slug, textWidth } from './svg.js';

type Sample = Vessel['profile'][number];

const WIDTH = 800;
const PLOT_HEIGHT = 300;

/** What the calibre profile shows, in words; also the alternative text of the image. */
export function calibreAlt(name: string, vessel: Vessel, device?: Device): string {
  const parts = [
    `Calibre of ${name} (${ROLE_WORDS[vessel.role]}) along its centreline, ${fixed(vessel.length_mm, 1)} mm long, from the far end to the sac: equivalent calibre ${rangeText([vessel.calibre_mm.min, vessel.calibre_mm.max], 1, 'mm')}.`,
  ];
  const { landing } = vessel;
  parts.push(
    landing
      ? `Landing zone from ${fixed(landing.from_mm, 1)} mm to ${fixed(landing.to_mm, 1)} mm, mean calibre ${fixed(landing.calibre_mm, 1)} mm, 95 % interval ${rangeText(landing.calibre_interval_mm, 1, 'mm')}.`
      : 'No landing zone.',
  );
  if (vessel.neck) parts.push(`Neck at ${fixed(vessel.neck.at_mm, 1)} mm.`);
  for (const branch of vessel.branches)
    parts.push(`Side branch ${branch.name} at ${fixed(branch.at_mm, 1)} mm.`);
  if (device?.window_mm) parts.push(`Device diameter asked for: ${rangeText(device.window_mm, 1, 'mm')}.`);
  if (device?.diameter_mm !== undefined)
    parts.push(`Chosen device: ${trimmed(device.diameter_mm)} mm diameter.`);
  return parts.join(' ');
}

/**
 * Draws the calibre of a vessel against the distance from its far end, mm: equivalent calibre, smallest and largest
 * width, landing zone with its calibre interval, neck, side branches, and the diameters a device may have.
 * The profile must hold at least one sample (RangeError otherwise).
 */
export function calibreProfileSvg(name: string, vessel: Vessel, device?: Device): string {
  if (vessel.profile.length === 0) throw new RangeError(`no calibre profile for ${name}`);
  const key = `calibre-${slug(name)}`;
  const profile = [...vessel.profile].sort((a, b) => a.at_mm - b.at_mm);
  const markers = markersOf(vessel);
  const rows = Math.max(0, ...markers.map((marker) => marker.row + 1));
  const box: Box = { left: 72, right: WIDTH - 24, top: 48 + rows * 18, bottom: 48 + rows * 18 + PLOT_HEIGHT };
  const x = scaleLinear([0, longest(vessel)], [box.left, box.right]);
  const y = scaleLinear([0, widest(vessel, device)], [box.bottom, box.top]).nice();
  const legend = legendStrip(legendItems(key, vessel, device), box.left, box.right, box.bottom + 52);
  const height = box.bottom + 52 + legend.height + 10;
  const widths = area<Sample>()
    .x((s) => x(s.at_mm))
    .y0((s) => y(s.min_mm))
    .y1((s) => y(s.max_mm));
  const calibre = curve<Sample>()
    .x((s) => x(s.at_mm))
    .y((s) => y(s.equivalent_mm));
  return figure(
    key,
    { width: WIDTH, height },
    { title: `Calibre profile of ${name}`, desc: calibreAlt(name, vessel, device) },
    hatch(`${key}-hatch`, COLOURS.orange, 45),
    label(fitText(`Calibre profile of ${name}, ${ROLE_WORDS[vessel.role]}`, WIDTH - 100, 16), box.left, 26, {
      size: 16,
      bold: true,
    }),
    landingShade(vessel, x, box),
    bottomAxis(x, box, 'Distance from the far end, towards the sac (mm)'),
    leftAxis(y, box, 'Diameter (mm)'),
    element('path', {
      d: widths(profile) ?? '',
      fill: COLOURS.skyBlue,
      'fill-opacity': 0.35,
      stroke: COLOURS.skyBlue,
    }),
    landingInterval(vessel, x, y, key),
    element('path', { d: calibre(profile) ?? '', fill: 'none', stroke: COLOURS.blue, 'stroke-width': 2.5 }),
    profile.length === 1
      ? element('circle', {
          cx: x(profile[0]!.at_mm),
          cy: y(profile[0]!.equivalent_mm),
          r: 4,
          fill: COLOURS.blue,
        })
      : '',
    markerMarks(vessel, markers, x, box),
    deviceRange(vessel, device, x, y, box),
    legend.svg,
  );
}

type Scale = ReturnType<typeof scaleLinear<number, number>>;

const longest = (vessel: Vessel): number =>
  Math.max(
    1,
    vessel.neck?.at_mm ?? 0,
    vessel.landing?.to_mm ?? 0,
    ...vessel.profile.map((s) => s.at_mm),
    ...vessel.branches.map((b) => b.to_mm ?? b.at_mm),
  );

const widest = (vessel: Vessel, device?: Device): number =>
  Math.max(
    1,
    ...vessel.profile.map((s) => s.max_mm),
    vessel.landing?.calibre_interval_mm[1] ?? 0,
    device?.window_mm?.[1] ?? 0,
    device?.diameter_mm ?? 0,
  ) * 1.05;

interface Marker {
  text: string;
  atMm: number;
  row: number;
  neck: boolean;
}

/** Neck and side branches with the row that their names stand in above the plot. */
function markersOf(vessel: Vessel): Marker[] {
  const marks = [
    ...[...vessel.branches]
      .sort((a, b) => a.at_mm - b.at_mm || compareNames(a.name, b.name))
      .map((branch) => ({ text: fitText(`branch ${branch.name}`, 160), atMm: branch.at_mm, neck: false })),
    ...(vessel.neck ? [{ text: 'neck', atMm: vessel.neck.at_mm, neck: true }] : []),
  ];
  const perMm = (WIDTH - 96) / longest(vessel);
  const rows = labelRows(marks.map((mark) => ({ x: mark.atMm * perMm, width: textWidth(mark.text) })));
  return marks.map((mark, i) => ({ ...mark, row: rows[i]! }));
}

function markerMarks(vessel: Vessel, markers: readonly Marker[], x: Scale, box: Box): string {
  const lines = markers.map((marker) => {
    const at = x(marker.atMm);
    const y = box.top - 6 - marker.row * 18;
    const half = textWidth(marker.text) / 2;
    const centre = Math.min(Math.max(at, box.left + half - 60), box.right + 20 - half);
    const colour = marker.neck ? COLOURS.vermilion : COLOURS.purple;
    return (
      line(at, y + 3, at, box.bottom, colour, 1.5, marker.neck ? '8 4' : '2 3') +
      label(marker.text, centre, y, { anchor: 'middle', halo: true })
    );
  });
  const openings = vessel.branches.map((branch) =>
    branch.from_mm === undefined || branch.to_mm === undefined
      ? ''
      : element('rect', {
          x: x(Math.max(0, branch.from_mm)),
          y: box.bottom - 8,
          width: Math.max(1, x(branch.to_mm) - x(Math.max(0, branch.from_mm))),
          height: 8,
          fill: COLOURS.purple,
          stroke: COLOURS.black,
          'stroke-width': 0.5,
        }),
  );
  return [...lines, ...openings].join('');
}

function landingShade(vessel: Vessel, x: Scale, box: Box): string {
  const { landing } = vessel;
  if (!landing) return '';
  const [from, to] = [x(landing.from_mm), x(landing.to_mm)];
  return element('rect', {
    x: from,
    y: box.top,
    width: to - from,
    height: box.bottom - box.top,
    fill: '#eeeeee',
  });
}

function landingInterval(vessel: Vessel, x: Scale, y: Scale, key: string): string {
  const { landing } = vessel;
  if (!landing) return '';
  const [low, high] = landing.calibre_interval_mm;
  return element('rect', {
    x: x(landing.from_mm),
    y: y(high),
    width: x(landing.to_mm) - x(landing.from_mm),
    height: Math.max(1, y(low) - y(high)),
    fill: `url(#${key}-hatch)`,
    stroke: COLOURS.orange,
    'stroke-width': 1,
  });
}

/** The range of device diameters as a bracket in the middle of the landing zone, the chosen one as a diamond. */
function deviceRange(vessel: Vessel, device: Device | undefined, x: Scale, y: Scale, box: Box): string {
  if (!device || (!device.window_mm && device.diameter_mm === undefined)) return '';
  const { landing } = vessel;
  const at = landing ? (x(landing.from_mm) + x(landing.to_mm)) / 2 : (box.left + box.right) / 2;
  const parts: string[] = [];
  if (device.window_mm) {
    const [low, high] = device.window_mm;
    parts.push(
      line(at, y(low), at, y(high), COLOURS.green, 4),
      line(at - 12, y(low), at + 12, y(low), COLOURS.green, 3),
      line(at - 12, y(high), at + 12, y(high), COLOURS.green, 3),
    );
  }
  const spot = device.diameter_mm ?? (device.window_mm![0] + device.window_mm![1]) / 2;
  const words =
    device.diameter_mm !== undefined
      ? `device ${trimmed(device.diameter_mm)} mm`
      : `device ${rangeText(device.window_mm!, 1, 'mm')}: none chosen`;
  if (device.diameter_mm !== undefined) {
    const cy = y(spot);
    parts.push(
      element('path', {
        d: `M${f(at)} ${f(cy - 8)}L${f(at + 8)} ${f(cy)}L${f(at)} ${f(cy + 8)}L${f(at - 8)} ${f(cy)}Z`,
        fill: COLOURS.black,
      }),
    );
  }
  const onLeft = at + 20 + textWidth(words) > box.right;
  parts.push(
    label(words, onLeft ? at - 18 : at + 18, y(spot) + 4, {
      anchor: onLeft ? 'end' : 'start',
      bold: true,
      halo: true,
    }),
  );
  return parts.join('');
}

const f = (value: number): string => fixed(value, 2);

function legendItems(key: string, vessel: Vessel, device?: Device): LegendItem[] {
  const band = (fill: string, stroke: string) => (x: number, y: number) =>
    element('rect', { x, y: y - 6, width: 28, height: 12, fill, stroke });
  const items: LegendItem[] = [
    { text: 'equivalent calibre', sample: (x, y) => line(x, y, x + 28, y, COLOURS.blue, 2.5) },
    { text: 'smallest to largest width of the section', sample: band('#c5e4f7', COLOURS.skyBlue) },
  ];
  if (vessel.landing) {
    items.push(
      { text: 'landing zone', sample: band('#eeeeee', MUTED) },
      { text: '95 % interval of its mean calibre', sample: band(`url(#${key}-hatch)`, COLOURS.orange) },
    );
  }
  if (vessel.branches.length > 0) {
    items.push({
      text: 'side branch (bar: its opening)',
      sample: (x, y) => line(x, y, x + 28, y, COLOURS.purple, 1.5, '2 3'),
    });
  }
  if (vessel.neck)
    items.push({
      text: 'neck of the sac',
      sample: (x, y) => line(x, y, x + 28, y, COLOURS.vermilion, 1.5, '8 4'),
    });
  if (device?.window_mm)
    items.push({
      text: 'device diameters asked for',
      sample: (x, y) => line(x, y, x + 28, y, COLOURS.green, 4),
    });
  if (device?.diameter_mm !== undefined) {
    items.push({
      text: 'chosen device',
      sample: (x, y) =>
        element('path', {
          d: `M${f(x + 14)} ${f(y - 7)}L${f(x + 21)} ${f(y)}L${f(x + 14)} ${f(y + 7)}L${f(x + 7)} ${f(y)}Z`,
          fill: COLOURS.black,
        }),
    });
  }
  return items;
}
