/** Slices around a point of a scan, with coordinates, and the opacified vessels near it, for reading off points. */
import { fixed, pointText } from '../../foundation/number-text.js';
import { dot, subtract, type Vec3 } from '../../foundation/vector.js';
import type { PlacePicture } from '../../witness/near-pictures.js';
import type { Tube } from '../../witness/tubes.js';
import { greyImage, WINDOW_TEXT } from './grey-image.js';
import { COLOURS } from './palette.js';
import { pathOf } from './scan-slice.js';
import { type Box, clipped, element, figure, label, line } from './svg.js';
import { directionLetters } from './view-axes.js';

export interface NearFigureInput {
  /** The requested point, mm LPS. */
  at: Vec3;
  /** Axial, coronal and sagittal slices through the place. */
  slices: readonly PlacePicture[];
  /** The same as maximum-intensity projections. */
  brightest: readonly PlacePicture[];
  tubes: readonly Tube[];
  /** An axial slice through the far end of each. */
  ends: readonly PlacePicture[];
}

const WIDTH = 1100;
const LEFT = 46;
const GAP = 52;
const SIDE = (WIDTH - LEFT - 16 - 2 * GAP) / 3;
const SMALL = 150;
const SMALL_GAP = 26;
const IN_ROW = 6;
const NAMES = ['axial, seen from the feet', 'coronal, seen from the front', 'sagittal, seen from the left'];
const AXES = 'xyz';
const TUBE = COLOURS.yellow;
const CROSS = COLOURS.vermilion;

/** One picture; `name` has no extension. */
export function nearFigure(name: string, { at, slices, brightest, tubes, ends }: NearFigureInput): string {
  let y = 76;
  const rows = [
    { title: `Slices through ${pointText(at)}`, pictures: slices, over: crossOver(at) },
    {
      title:
        'The brightest along the line of sight, with the axes of the vessels and their numbers at the far ends',
      pictures: brightest,
      over: tubesOver(tubes, at),
    },
  ].map(({ title, pictures, over }, r) => {
    const heading = label(title, LEFT, y - 26, { size: 13, bold: true });
    const drawn = pictures.map((picture, i) => {
      const left = LEFT + i * (SIDE + GAP);
      const box: Box = { left, right: left + SIDE, top: y, bottom: y + SIDE };
      return [
        label(NAMES[i]!, left, y - 8, { size: 12 }),
        pictureSvg(picture, box, `${name}-${r}-${i}`, over, 10),
      ].join('');
    });
    y += SIDE + 86;
    return [heading, ...drawn].join('');
  });
  const crops = ends.map((picture, i) => {
    const left = LEFT + (i % IN_ROW) * (SMALL + SMALL_GAP);
    const top = y + Math.floor(i / IN_ROW) * (SMALL + 56);
    const box: Box = { left, right: left + SMALL, top, bottom: top + SMALL };
    const tube = tubes[i]!;
    return [
      label(`${i + 1}: ${pointText(tube.to)}`, left, top - 7, { size: 11, bold: true }),
      pictureSvg(picture, box, `${name}-end-${i}`, crossOver(tube.to), 10),
    ].join('');
  });
  const title = ends.length > 0 ? [label('Far ends, axial', LEFT, y - 28, { size: 13, bold: true })] : [];
  if (ends.length > 0) y += Math.ceil(ends.length / IN_ROW) * (SMALL + 56);
  const notes = [
    `All coordinates in mm, LPS: x to the patient's left, y to the back, z to the head. Window ${WINDOW_TEXT}. Black: outside of the scan.`,
    'For finding points. Calibres and axes here are rough; check each point on the slices before it goes into a case.',
  ];
  const desc = `Slices about ${pointText(at)} mm with coordinates. Vessels: ${tubes.map(({ to, calibreMm }, i) => `${i + 1}, ${fixed(calibreMm, 1)} mm wide, far end ${pointText(to)}`).join('; ') || 'none'}.`;
  return figure(
    name,
    { width: WIDTH, height: y + 16 * notes.length },
    { title: `The scan about ${pointText(at)}`, desc },
    label(`The scan about ${pointText(at)} mm`, LEFT, 26, { size: 16, bold: true }),
    ...rows,
    ...title,
    ...crops,
    ...notes.map((text, i) => label(text, LEFT, y + 16 * i, { size: 11, fill: '#555555' })),
  );
}

type Place = (p: Vec3) => [number, number];
type Over = (place: Place) => string;

/** A picture with axes in patient coordinates and a tick every `tickMm`. */
function pictureSvg(
  { plane, reachMm, grey }: PlacePicture,
  box: Box,
  id: string,
  over: Over,
  tickMm: number,
): string {
  const perMm = (box.right - box.left) / (2 * reachMm);
  const [middleX, middleY] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const place: Place = (p) => {
    const d = subtract(p, plane.centre);
    return [middleX + dot(d, plane.right) * perMm, middleY + dot(d, plane.down) * perMm];
  };
  const shown = grey.columns * grey.stepMm * perMm;
  const [across, upright] = [plane.right, plane.down].map((v) => v.findIndex((x) => x !== 0));
  return [
    clipped(
      id,
      box,
      greyImage(grey, { x: middleX - shown / 2, y: middleY - shown / 2, width: shown, height: shown }),
      over(place),
    ),
    ...ticks(plane.centre[across!]!, plane.right[across!]!, reachMm, tickMm).flatMap(({ value, mm }) => {
      const x = middleX + mm * perMm;
      return [
        line(x, box.bottom, x, box.bottom + 4, COLOURS.black),
        label(fixed(value, 0), x, box.bottom + 15, { anchor: 'middle', size: 10 }),
      ];
    }),
    ...ticks(plane.centre[upright!]!, plane.down[upright!]!, reachMm, tickMm).flatMap(({ value, mm }) => {
      const y = middleY + mm * perMm;
      return [
        line(box.left - 4, y, box.left, y, COLOURS.black),
        label(fixed(value, 0), box.left - 6, y + 3.5, { anchor: 'end', size: 10 }),
      ];
    }),
    label(`${AXES[across!]}, ${directionLetters(plane.right)}`, box.right, box.bottom + 27, {
      anchor: 'end',
      size: 10,
    }),
    label(`${AXES[upright!]}, ${directionLetters(plane.down)} down`, box.left, box.bottom + 27, { size: 10 }),
  ].join('');
}

/**
 * Whole multiples of a step within `reachMm` of a centre; `sign`: the direction in which the coordinate increases along the picture's
 * axis.
 */
function ticks(
  centre: number,
  sign: number,
  reachMm: number,
  stepMm: number,
): { value: number; mm: number }[] {
  const found: { value: number; mm: number }[] = [];
  for (
    let value = Math.ceil((centre - reachMm) / stepMm) * stepMm;
    value <= centre + reachMm;
    value += stepMm
  )
    found.push({ value, mm: (value - centre) * sign });
  return found;
}

const crossOver =
  (at: Vec3): Over =>
  (place) => {
    const [x, y] = place(at);
    return [
      [-14, 0, -4, 0],
      [4, 0, 14, 0],
      [0, -14, 0, -4],
      [0, 4, 0, 14],
    ]
      .map(([a, b, c, d]) => line(x + a!, y + b!, x + c!, y + d!, CROSS, 2))
      .join('');
  };

const tubesOver =
  (tubes: readonly Tube[], at: Vec3): Over =>
  (place) =>
    [
      ...tubes.map((tube) =>
        element('path', {
          d: pathOf(
            tube.line.flatMap((p) => place(p)),
            (mm) => mm,
            (mm) => mm,
          ),
          fill: 'none',
          stroke: TUBE,
          'stroke-width': 1.6,
        }),
      ),
      crossOver(at)(place),
      ...tubes.map(({ to }, i) => {
        const [x, y] = place(to);
        return [
          element('circle', { cx: x, cy: y, r: 3, fill: TUBE, stroke: COLOURS.black }),
          label(String(i + 1), x + 6, y - 5, { size: 13, bold: true, halo: true }),
        ].join('');
      }),
    ].join('');
