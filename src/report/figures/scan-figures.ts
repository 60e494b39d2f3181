/** Pictures of the scan for a reader to check the surfaces by eye: along each feeder, through the sac, at each missed piece. */
import { fixed } from '../../foundation/number-text.js';
import type { Vessel } from '../../result/result.generated.js';
import type { MissedPictures, ScanPictures, ScanSlice, VesselPictures } from '../../witness/scan-pictures.js';
import { plainLine } from '../plain-line.js';
import { ROLE_WORDS } from '../words.js';
import type { Figure } from './figures.js';
import { fileNamer } from './file-names.js';
import { WINDOW_TEXT } from './grey-image.js';
import { type LegendItem, legendStrip } from './legend.js';
import { COLOURS } from './palette.js';
import { IMAGE_DASH, IMAGE_LINE, lineOf, SURFACE_LINE, sliceSvg } from './scan-slice.js';
import { stripSvg, UNSURE_COLOUR } from './scan-strip.js';
import { type Box, element, figure, fitText, label, line, slug } from './svg.js';

const WIDTH = 960;
const MARGIN = 70;
const RIGHT = 16;
const GAP = 22;
const SIDE = (WIDTH - MARGIN - RIGHT - 2 * GAP) / 3;
const BACK = '#555555';

/**
 * A figure for each feeder (`scan-of-NAME.svg`), one through the sac (`scan-sac.svg`), one for each missed piece (`scan-missed-N.svg`).
 * `vessels` are those of the result: landing zone, neck and branches are marked from them.
 */
export function scanFigures(pictures: ScanPictures, vessels: Readonly<Record<string, Vessel>>): Figure[] {
  const fileName = fileNamer();
  const feeders = pictures.vessels.flatMap((one): Figure[] => {
    const vessel = Object.hasOwn(vessels, one.name) ? vessels[one.name] : undefined;
    if (!vessel) return [];
    const alt = vesselAlt(one, vessel);
    const name = fileName(`scan-of-${slug(one.name)}`);
    return [{ name, alt, svg: vesselSvg(one, vessel, name.replace(/\.svg$/, ''), alt) }];
  });
  const sac = pictures.sac ? [sacFigure(pictures.sac, fileName('scan-sac'))] : [];
  const missed = pictures.missed.map((one) => missedFigure(one, fileName(`scan-missed-${one.number}`)));
  return [...feeders, ...sac, ...missed];
}

function vesselAlt(one: VesselPictures, vessel: Vessel): string {
  const read = one.straight.strips[0].image.length;
  const sections = one.sections.map((s) => {
    const surface = s.surfaceMm === undefined ? '' : `, surface ${fixed(s.surfaceMm, 1)} mm`;
    const image = s.image === undefined ? '' : `, scan ${fixed(s.image.calibreMm, 1)} mm`;
    return `${s.at} at ${fixed(s.atMm, 1)} mm${surface}${image}`;
  });
  const unsure =
    one.unsure.length === 0
      ? ''
      : ` Unsure: ${one.unsure.map((u) => `number ${u.number} about ${fixed((u.fromMm + u.toMm) / 2, 0)} mm`).join(', ')}.`;
  return `${plainLine(one.name)} in the scan: ${ROLE_WORDS[vessel.role]}, straightened along its centreline in two directions, with the wall of the surface${read > 0 ? ` and, at ${read} places, the wall that the scan shows` : '; the scan was not read for its wall'}. Sections: ${sections.join('; ') || 'none'}.${unsure} Window ${WINDOW_TEXT}.`;
}

function vesselSvg(one: VesselPictures, vessel: Vessel, key: string, alt: string): string {
  const strips = stripSvg(one, vessel, key, { left: MARGIN, right: WIDTH - RIGHT, top: 78 });
  let y = strips.bottom + 50;
  const squares = one.sections.map((section, i) => {
    const left = MARGIN + i * (SIDE + GAP);
    const box: Box = { left, right: left + SIDE, top: y, bottom: y + SIDE };
    const wall = (x: (mm: number) => number, down: (mm: number) => number): string =>
      section.image
        ? element('circle', {
            cx: x(section.image.centre[0]),
            cy: down(section.image.centre[1]),
            r: x(section.image.calibreMm / 2) - x(0),
            fill: 'none',
            stroke: IMAGE_LINE,
            'stroke-width': 1.6,
            'stroke-dasharray': IMAGE_DASH,
          })
        : '';
    const sizes = [
      ...(section.surfaceMm === undefined ? [] : [`surface ${fixed(section.surfaceMm, 1)}`]),
      ...(section.image === undefined ? [] : [`scan ${fixed(section.image.calibreMm, 1)}`]),
    ];
    return [
      label(`${section.at}, at ${fixed(section.atMm, 1)} mm`, left, y - 23, { size: 12, bold: true }),
      sizes.length > 0 ? label(`calibre: ${sizes.join(', ')} mm`, left, y - 7, { size: 12 }) : '',
      sliceSvg(section, box, `${key}-s${i}`, wall),
    ].join('');
  });
  if (squares.length > 0) y += SIDE + 44;
  const roles = new Set(one.sections.flatMap(({ outlines }) => outlines.map(({ role }) => role)));
  const hasImage = one.straight.strips[0].image.length > 0;
  const items = [...legendItems(roles, hasImage), ...(one.unsure.length > 0 ? [UNSURE_ITEM] : [])];
  const legend = legendStrip(items, MARGIN, WIDTH - RIGHT, y);
  y += legend.height + 18;
  const notes = [
    `Window ${WINDOW_TEXT}: the wall of a vessel in lung lies where the picture is mid-grey. Sections are seen towards the sac.`,
    'For checking by eye. Straightened: distances along and across the centreline are true, what lies beside a bend is not.',
  ];
  return figure(
    key,
    { width: WIDTH, height: y + 16 * notes.length },
    { title: `${one.name} in the scan`, desc: alt },
    label(fitText(`${one.name} in the scan, ${ROLE_WORDS[vessel.role]}`, WIDTH - 110, 16), MARGIN, 26, {
      size: 16,
      bold: true,
    }),
    strips.svg,
    ...squares,
    legend.svg,
    ...notes.map((text, i) => label(text, MARGIN, y + 16 * i, { size: 11, fill: BACK })),
  );
}

const UNSURE_ITEM: LegendItem = {
  text: 'unsure stretch, numbered as in surfaces/report.md',
  sample: (x, y) => element('rect', { x, y: y - 6, width: 28, height: 12, fill: UNSURE_COLOUR }),
};

const SLICE_NAMES = [
  'axial, seen from the feet',
  'coronal, seen from the front',
  'sagittal, seen from the left',
];

function sacFigure(slices: readonly ScanSlice[], name: string): Figure {
  const found = new Set(slices.flatMap(({ outlines }) => outlines.map(({ role }) => role)));
  const alt = `Sac in the scan: three slices through its middle with the outlines of the surfaces (${[...found].map(roleWord).join(', ') || 'none is cut'}). Window ${WINDOW_TEXT}.`;
  return { name, alt, svg: threeSlices(slices, name, 'Sac in the scan', alt) };
}

function missedFigure({ number, piece, slices }: MissedPictures, name: string): Figure {
  const kind = piece.kind === 'feeder-candidate' ? 'possible feeder' : piece.kind;
  const joins = piece.joins === undefined ? '' : `, joins ${piece.joins === 'sac' ? 'the sac' : piece.joins}`;
  const size = `${fixed(piece.calibre_mm, 1)} mm wide, followed over ${fixed(piece.length_mm, 1)} mm`;
  const title = `Missed piece ${number} in the scan: ${kind}, ${size}${joins}`;
  const alt = `Missed piece ${number} in the scan: ${plainLine(`${kind}, ${size}${joins}`)}; the cross marks its place in three slices. Window ${WINDOW_TEXT}.`;
  const cross = (x: (mm: number) => number, y: (mm: number) => number): string =>
    [
      [-9, 0, -3, 0],
      [3, 0, 9, 0],
      [0, -9, 0, -3],
      [0, 3, 0, 9],
    ]
      .map(([a, b, c, d]) => line(x(0) + a!, y(0) + b!, x(0) + c!, y(0) + d!, COLOURS.vermilion, 2.5))
      .join('');
  return { name, alt, svg: threeSlices(slices, name, title, alt, cross) };
}

function threeSlices(
  slices: readonly ScanSlice[],
  name: string,
  title: string,
  desc: string,
  over?: Parameters<typeof sliceSvg>[3],
): string {
  const key = name.replace(/\.svg$/, '');
  const side = (WIDTH - 2 * RIGHT - 2 * GAP) / 3;
  const top = 62;
  const drawn = slices.map((slice, i) => {
    const left = RIGHT + i * (side + GAP);
    return [
      label(SLICE_NAMES[i] ?? '', left, top - 7, { size: 12, bold: true }),
      sliceSvg(slice, { left, right: left + side, top, bottom: top + side }, `${key}-s${i}`, over),
    ].join('');
  });
  let y = top + side + 44;
  const roles = new Set(slices.flatMap(({ outlines }) => outlines.map(({ role }) => role)));
  const legend = legendStrip(legendItems(roles, false), RIGHT, WIDTH - RIGHT, y);
  y += legend.height + 18;
  return figure(
    key,
    { width: WIDTH, height: y + 14 },
    { title, desc },
    label(fitText(title, WIDTH - 2 * RIGHT, 16), RIGHT, 26, { size: 16, bold: true }),
    ...drawn,
    legend.svg,
    label(`Window ${WINDOW_TEXT}. For checking by eye.`, RIGHT, y, { size: 11, fill: BACK }),
  );
}

const ROLES: Readonly<Record<string, string>> = {
  feeder: 'feeding artery',
  'systemic-feeder': 'feeding artery',
  drain: 'draining vein',
  branch: 'side branch',
  whole: 'surface of the lesion',
  sac: 'sac',
};

const roleWord = (role: string): string => (Object.hasOwn(ROLES, role) ? ROLES[role]! : 'other surfaces');

/** One entry for each line that is drawn, over grey as in the pictures. */
function legendItems(roles: ReadonlySet<string>, hasImage: boolean): LegendItem[] {
  const sample =
    (colour: string, dash?: string) =>
    (x: number, y: number): string =>
      `${element('rect', { x, y: y - 7, width: 28, height: 14, fill: BACK })}${line(x + 2, y, x + 26, y, colour, 2, dash)}`;
  const words = new Map([...roles].sort().map((role) => [roleWord(role), lineOf(role)]));
  const surfaces = [...words].map(([text, colour]) => ({
    text: `surface: ${text === 'surface of the lesion' ? 'lesion' : text}`,
    sample: sample(colour),
  }));
  const own = surfaces.length > 0 ? surfaces : [{ text: 'surface', sample: sample(SURFACE_LINE) }];
  return hasImage
    ? [...own, { text: 'wall that the scan shows, as a circle', sample: sample(IMAGE_LINE, IMAGE_DASH) }]
    : own;
}
