import { areaY, dot, lineY, type Markish, rect, ruleX, ruleY } from '@observablehq/plot';
import { fixed, rangeText } from '../../foundation/number-text.js';
import type { Device, Vessel } from '../../result/result.generated.js';
import { compareNames, ROLE_WORDS, trimmed } from '../words.js';
import { bottomAxis, chart, leftAxis, words } from './chart.js';
import { type LegendItem, legendStrip } from './legend.js';
import { COLOURS, hatch, MUTED } from './palette.js';
import { element, figure, fitText, label, line, slug, textWidth } from './svg.js';

const WIDTH = 800;
const PLOT_HEIGHT = 300;
const MARGIN = { left: 72, right: 24, bottom: 46 };
const PLOT_WIDTH = WIDTH - MARGIN.left - MARGIN.right;
/** Height of one row of labels above the plot, px. */
const ROW = 18;
const ZONE = '#eeeeee';

/** The content of the calibre profile, in words; also the alternative text of the image. */
export function calibreAlt(name: string, vessel: Vessel, device?: Device): string {
  const parts = [
    `Calibre of ${name} (${ROLE_WORDS[vessel.role]}) along its centreline, ${vessel.length_mm === undefined ? '' : `${fixed(vessel.length_mm, 1)} mm long, `}from the far end to the sac: equivalent calibre ${rangeText([vessel.calibre_mm.min, vessel.calibre_mm.max], 1, 'mm')}.`,
  ];
  const { landing } = vessel;
  parts.push(
    landing
      ? `Landing zone from ${fixed(landing.from_mm, 1)} mm to ${fixed(landing.to_mm, 1)} mm, mean calibre ${fixed(landing.calibre_mm, 1)} mm, 95 % interval ${rangeText(landing.calibre_interval_mm, 1, 'mm')}.`
      : 'No landing zone.',
  );
  for (const [from, to] of gapsOf(vessel.profile))
    parts.push(`No section between ${fixed(from, 1)} mm and ${fixed(to, 1)} mm.`);
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
  const profile = inRuns(vessel.profile);
  const scale: Scale = { longestMm: longest(vessel), widestMm: widest(vessel, device) };
  const markers = markersOf(vessel, scale);
  const top = 12 + Math.max(0, ...markers.map((marker) => marker.row + 1)) * ROW;
  const plotted = chart(
    {
      width: WIDTH,
      height: top + PLOT_HEIGHT + MARGIN.bottom,
      marginLeft: MARGIN.left,
      marginRight: MARGIN.right,
      marginTop: top,
      marginBottom: MARGIN.bottom,
      x: { domain: [0, scale.longestMm] },
      y: { domain: [0, scale.widestMm], nice: true },
      marks: [
        ...landingShade(vessel),
        bottomAxis('Distance from the far end, towards the sac (mm)'),
        leftAxis('Diameter (mm)', { ticks: 6 }),
        areaY(profile, {
          x: 'at_mm',
          y1: 'min_mm',
          y2: 'max_mm',
          z: 'run',
          fill: COLOURS.skyBlue,
          fillOpacity: 0.35,
          stroke: COLOURS.skyBlue,
        }),
        ...landingInterval(vessel, key),
        lineY(profile, { x: 'at_mm', y: 'equivalent_mm', z: 'run', stroke: COLOURS.blue, strokeWidth: 2.5 }),
        dot(alone(profile), { x: 'at_mm', y: 'equivalent_mm', r: 4, fill: COLOURS.blue }),
        ...openings(vessel),
        ...markers.flatMap((marker) => markerMarks(marker, scale)),
        ...deviceRange(vessel, device, scale),
      ],
    },
    0,
    36,
  );
  const under = 36 + top + PLOT_HEIGHT + MARGIN.bottom + 6;
  const legend = legendStrip(legendItems(key, vessel, device), MARGIN.left, WIDTH - MARGIN.right, under);
  return figure(
    key,
    { width: WIDTH, height: under + legend.height + 10 },
    { title: `Calibre profile of ${name}`, desc: calibreAlt(name, vessel, device) },
    hatch(`${key}-hatch`, COLOURS.orange, 45),
    label(
      fitText(`Calibre profile of ${name}, ${ROLE_WORDS[vessel.role]}`, WIDTH - 100, 16),
      MARGIN.left,
      26,
      { size: 16, bold: true },
    ),
    plotted,
    legend.svg,
  );
}

type Sample = Vessel['profile'][number];

/** A step this many times the usual distance between sections is a gap: nothing was measured there, so nothing is drawn. */
const GAP_STEPS = 2.5;

/** The samples in order, each with the number of its gap-free run. */
function inRuns(samples: readonly Sample[]): (Sample & { run: number })[] {
  const sorted = [...samples].sort((a, b) => a.at_mm - b.at_mm);
  const steps = sorted.slice(1).map((s, i) => s.at_mm - sorted[i]!.at_mm);
  const usual = [...steps].sort((a, b) => a - b)[steps.length >> 1] ?? 0;
  let run = 0;
  return sorted.map((s, i) => {
    if (i > 0 && steps[i - 1]! > GAP_STEPS * usual) run++;
    return { ...s, run };
  });
}

/** Ends of the gaps between sections, mm from the far end. */
function gapsOf(samples: readonly Sample[]): [number, number][] {
  const runs = inRuns(samples);
  return runs.flatMap((s, i): [number, number][] =>
    i > 0 && s.run !== runs[i - 1]!.run ? [[runs[i - 1]!.at_mm, s.at_mm]] : [],
  );
}

/** Samples that form a run on their own; a line would not show them. */
const alone = (samples: readonly (Sample & { run: number })[]): Sample[] =>
  samples.filter((s, i) => samples[i - 1]?.run !== s.run && samples[i + 1]?.run !== s.run);

/** Ends of both axes, mm. */
interface Scale {
  longestMm: number;
  widestMm: number;
}

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

/** Neck and side branches, each with the row of its label above the plot. */
function markersOf(vessel: Vessel, { longestMm }: Scale): Marker[] {
  const marks = [
    ...[...vessel.branches]
      .sort((a, b) => a.at_mm - b.at_mm || compareNames(a.name, b.name))
      .map((branch) => ({ text: fitText(`branch ${branch.name}`, 160), atMm: branch.at_mm, neck: false })),
    ...(vessel.neck ? [{ text: 'neck', atMm: vessel.neck.at_mm, neck: true }] : []),
  ];
  const perMm = PLOT_WIDTH / longestMm;
  const rows = labelRows(marks.map((mark) => ({ x: mark.atMm * perMm, width: textWidth(mark.text) })));
  return marks.map((mark, i) => ({ ...mark, row: rows[i]! }));
}

/** Assigns labels at given x positions to the fewest rows in which none overlap; returns the row of each. */
function labelRows(places: readonly { x: number; width: number }[], gap = 8): number[] {
  const order = places.map((_, i) => i).sort((a, b) => places[a]!.x - places[b]!.x || a - b);
  const ends: number[] = [];
  const rows = new Array<number>(places.length).fill(0);
  for (const i of order) {
    const { x, width } = places[i]!;
    const start = x - width / 2;
    let row = ends.findIndex((end) => start >= end + gap);
    if (row < 0) row = ends.length;
    ends[row] = x + width / 2;
    rows[i] = row;
  }
  return rows;
}

/** A line through the plot up to its label, which is kept inside the figure. */
function markerMarks({ text, atMm, row, neck }: Marker, { longestMm }: Scale): Markish[] {
  const at = MARGIN.left + (atMm / longestMm) * PLOT_WIDTH;
  const half = textWidth(text) / 2;
  const centre = Math.min(Math.max(at, MARGIN.left + half - 60), WIDTH - 4 - half);
  return [
    ruleX([atMm], {
      stroke: neck ? COLOURS.vermilion : COLOURS.purple,
      strokeWidth: 1.5,
      strokeDasharray: neck ? '8 4' : '2 3',
      insetTop: -3 - row * ROW,
    }),
    words([text], { x: [atMm], frameAnchor: 'top', text: [text], dx: centre - at, dy: -10 - row * ROW }),
  ];
}

/** Bars on the axis at the openings of side branches. */
const openings = (vessel: Vessel): Markish[] =>
  vessel.branches.flatMap(({ from_mm: from, to_mm: to }) =>
    from === undefined || to === undefined
      ? []
      : rect([0], {
          x1: [Math.max(0, from)],
          x2: [to],
          // From the axis upwards, 8 px high.
          insetTop: PLOT_HEIGHT - 8,
          fill: COLOURS.purple,
          stroke: COLOURS.black,
          strokeWidth: 0.5,
        }),
  );

const landingShade = ({ landing }: Vessel): Markish[] =>
  landing ? [rect([landing], { x1: 'from_mm', x2: 'to_mm', fill: ZONE })] : [];

function landingInterval({ landing }: Vessel, key: string): Markish[] {
  if (!landing) return [];
  const [low, high] = landing.calibre_interval_mm;
  return [
    rect([landing], {
      x1: 'from_mm',
      x2: 'to_mm',
      y1: [low],
      y2: [high],
      fill: `url(#${key}-hatch)`,
      stroke: COLOURS.orange,
    }),
  ];
}

/** The range of device diameters as a bracket in the middle of the landing zone, the chosen one as a diamond. */
function deviceRange({ landing }: Vessel, device: Device | undefined, { longestMm }: Scale): Markish[] {
  const window = device?.window_mm;
  const diameter = device?.diameter_mm;
  const spot = diameter ?? (window && (window[0] + window[1]) / 2);
  if (spot === undefined) return [];
  const at = landing ? (landing.from_mm + landing.to_mm) / 2 : longestMm / 2;
  const half = (12 / PLOT_WIDTH) * longestMm;
  const text =
    diameter !== undefined
      ? `device ${trimmed(diameter)} mm`
      : `device ${rangeText(window!, 1, 'mm')}: none chosen`;
  const onLeft = (at / longestMm) * PLOT_WIDTH + 20 + textWidth(text) > PLOT_WIDTH;
  return [
    ...(window
      ? [
          ruleX([at], { y1: [window[0]], y2: [window[1]], stroke: COLOURS.green, strokeWidth: 4 }),
          ruleY([...window], {
            x1: [at - half, at - half],
            x2: [at + half, at + half],
            stroke: COLOURS.green,
            strokeWidth: 3,
          }),
        ]
      : []),
    ...(diameter === undefined
      ? []
      : [dot([diameter], { x: [at], y: [diameter], symbol: 'diamond2', r: 8, fill: COLOURS.black })]),
    words([text], {
      x: [at],
      y: [spot],
      text: [text],
      dx: onLeft ? -18 : 18,
      textAnchor: onLeft ? 'end' : 'start',
      fontWeight: 'bold',
    }),
  ];
}

function legendItems(key: string, vessel: Vessel, device?: Device): LegendItem[] {
  const band = (fill: string, stroke: string) => (x: number, y: number) =>
    element('rect', { x, y: y - 6, width: 28, height: 12, fill, stroke });
  const items: LegendItem[] = [
    { text: 'equivalent calibre', sample: (x, y) => line(x, y, x + 28, y, COLOURS.blue, 2.5) },
    { text: 'smallest to largest width of the section', sample: band('#c5e4f7', COLOURS.skyBlue) },
  ];
  if (vessel.landing) {
    items.push(
      { text: 'landing zone', sample: band(ZONE, MUTED) },
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
          d: `M${x + 14} ${y - 7}l7 7l-7 7l-7 -7Z`,
          fill: COLOURS.black,
        }),
    });
  }
  return items;
}
