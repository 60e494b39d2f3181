/** A landing zone as the C-arm sees it at its working view. */
import { fixed } from '../../foundation/number-text.js';
import { distance, lerp, type Vec3 } from '../../foundation/vector.js';
import { drawnLengthMm } from '../../result/drawn-length.js';
import type { Device, Result, Vessel } from '../../result/result.generated.js';
import { armText, entryOf, orderedVessels } from '../words.js';
import type { Figure } from './figures.js';
import { legendStrip } from './legend.js';
import { GRID, MUTED } from './palette.js';
import type { Projection } from './raster-samples.js';
import { type Box, element, figure, fitText, label } from './svg.js';
import { armView, type View } from './view-axes.js';
import { columnWidth, type LabelPoint, labelsSvg, placeLabels } from './view-labels.js';
import {
  extentOf,
  framedParts,
  HIDDEN_NOTE,
  lettersSvg,
  onPicture,
  partLegend,
  pictureOf,
  projectionOf,
  scaleBar,
  shownWords,
  type ViewPart,
} from './view-parts.js';
import { boxPoints, deviceOutline, outlineSvg, type Point, stretch, zoneSvg } from './working-marks.js';

type Landing = NonNullable<Vessel['landing']>;

/** What the working view of one vessel shows, lengths in mm, points in the axes of the file. */
export interface WorkingTarget {
  name: string;
  line: readonly Vec3[];
  lengthMm: number;
  largestCalibreMm: number;
  landing: Landing;
  view: NonNullable<Landing['view']>;
  device?: Device;
  /** The other vessels, named where they are visible. */
  others: readonly { name: string; line: readonly Vec3[]; insideMm: number }[];
}

/** One target for each vessel with a landing zone, a centreline and a working view; nothing is computed. */
export function workingTargets(result: Result): WorkingTarget[] {
  const vessels = orderedVessels(result);
  return vessels.flatMap(([name, vessel]) => {
    const { landing, centreline_mm: points } = vessel;
    if (!landing?.view || !points || points.length < 2) return [];
    return {
      name,
      line: points,
      lengthMm: drawnLengthMm(vessel),
      largestCalibreMm: vessel.calibre_mm.max,
      landing,
      view: landing.view,
      device: entryOf(result.devices, name),
      others: vessels.flatMap(([other, { centreline_mm, calibre_mm }]) =>
        other !== name && centreline_mm
          ? [{ name: other, line: centreline_mm, insideMm: calibre_mm.max }]
          : [],
      ),
    };
  });
}

/** The picture; label columns are next to it, so that no text covers the vessels. */
const BOX: Box = { left: 232, right: 752, top: 66, bottom: 536 };
const WIDTH = 984;
const COLUMN = columnWidth(33);
/** Area for labels. */
const LABELS = { left: 10, right: WIDTH - 10, top: BOX.top, bottom: BOX.bottom };
/** Area for the lesion in the picture, inside the letters, px. */
const ROOM = { width: 450, height: 410 };
/** Least size of the landing zone, px, as far as `MOST_PER_MM` allows. */
const LEAST_ZONE_PX = 40;
/** Most pixels per mm, so that a tiny vessel is not enlarged beyond the detail of its surface. */
const MOST_PER_MM = 16;

/** `working-NAME.svg`: the vessel at its C-arm angles with both ends of its landing zone and the device's outline. */
export function workingFigure(
  target: WorkingTarget,
  parts: readonly ViewPart[],
  frame: 'LPS' | 'RAS',
  fileName: string,
): Figure {
  const { name, landing, device } = target;
  const angles = armText(target.view);
  const view = armView(
    `working view of ${name}: ${angles}`,
    frame,
    target.view.lao_rao_deg,
    target.view.cran_caud_deg,
  );
  const { projection, perMm } = fitted(target, parts, view);
  const at = (alongMm: number): Point => onPicture(projection, pointAt(target, alongMm));
  const zone = stretch(at, landing.from_mm, landing.to_mm);
  const outline = device && deviceOutline(device, landing, at, perMm);
  const picture = pictureOf(parts, projection, perMm, BOX);
  const { placed } = placeLabels(labelPoints(target, projection, picture.hides, outline), LABELS, COLUMN);
  const legend = workingLegend(parts, outline !== undefined);
  const below = BOX.bottom + 12 + Math.max(legend.height, 22);
  const alt = `Working view of ${name}: ${angles}. Landing zone, ${sizeText(landing)}.${outline ? ` Outline: ${outline.text}.` : ''} Shown: ${shownWords(parts).join(', ')}.`;
  const svg = figure(
    fileName.replace(/\.svg$/, ''),
    { width: WIDTH, height: below + 48 },
    { title: `Working view of ${name}`, desc: alt },
    label(fitText(`Working view of ${name}: ${angles}`, WIDTH - 40, 16), 20, 26, {
      size: 16,
      bold: true,
    }),
    label('As the C-arm sees it, detector on the viewer’s side, head up.', 20, 48, { size: 12, fill: MUTED }),
    picture.svg,
    element('rect', {
      x: BOX.left,
      y: BOX.top,
      width: BOX.right - BOX.left,
      height: BOX.bottom - BOX.top,
      fill: 'none',
      stroke: GRID,
    }),
    outline ? outlineSvg(outline.points) : '',
    zoneSvg(zone, (landing.calibre_mm * perMm) / 2 + 6),
    labelsSvg(placed),
    lettersSvg(view, BOX, placed),
    legend.svg,
    scaleBar(perMm, 70, WIDTH - 150, BOX.bottom + 23),
    label(NOTE, 20, below + 16, { size: 12, fill: MUTED }),
    label(HIDDEN_NOTE, 20, below + 34, { size: 12, fill: MUTED }),
  );
  return { name: fileName, svg, alt };
}

/** Labels of the picture: landing zone, device and vessels, each at a visible place if it has one. */
function labelPoints(
  target: WorkingTarget,
  projection: Projection,
  hides: ReturnType<typeof pictureOf>['hides'],
  outline: ReturnType<typeof deviceOutline> | undefined,
): LabelPoint[] {
  const { name, line, landing, largestCalibreMm: depthMm } = target;
  const onZone = (text: string, alongMm: number): LabelPoint => {
    const place = pointAt(target, alongMm);
    return { text, ...onPicture(projection, place), hidden: hides(place, depthMm) };
  };
  const named = (one: { name: string; line: readonly Vec3[]; insideMm: number }): LabelPoint[] => {
    const inSight = one.line
      .map((point) => ({ ...onPicture(projection, point), hidden: hides(point, one.insideMm) }))
      .filter((p) => inside(p, BOX));
    const open = inSight.filter((p) => !p.hidden);
    const among = open.length > 0 ? open : inSight;
    const spot = among[Math.floor(among.length / 2)];
    return spot ? [{ text: one.name, ...spot }] : [];
  };
  const farPart = line.slice(0, Math.max(1, Math.round(line.length / 8)));
  return [
    onZone('landing zone, far end', landing.from_mm),
    onZone(sizeText(landing), (landing.from_mm + landing.to_mm) / 2),
    onZone('landing zone, sac side', landing.to_mm),
    ...(outline ? [{ text: outline.text, ...outline.mark }] : []),
    ...[{ name, line: farPart, insideMm: depthMm }, ...target.others].flatMap(named),
  ];
}

function workingLegend(parts: readonly ViewPart[], hasDevice: boolean): ReturnType<typeof legendStrip> {
  const zone = {
    text: 'landing zone',
    sample: (x: number, y: number) =>
      zoneSvg(
        [
          { x: x + 2, y },
          { x: x + 26, y },
        ],
        5,
      ),
  };
  const device = {
    text: 'device at its size outside the body',
    sample: (x: number, y: number) => outlineSvg(boxPoints(x + 3, y - 6, 22, 12)),
  };
  return legendStrip(
    [...partLegend(parts), zone, ...(hasDevice ? [device] : [])],
    20,
    WIDTH - 170,
    BOX.bottom + 12,
  );
}

const sizeText = (landing: Landing): string =>
  `calibre ${fixed(landing.calibre_mm, 1)} mm, length ${fixed(landing.length_mm, 1)} mm`;

const NOTE =
  'Parallel projection from the CT; an angiogram is not parallel. Confirm the view at the table by angiography.';

const inside = (p: Point, box: Box): boolean =>
  p.x > box.left && p.x < box.right && p.y > box.top && p.y < box.bottom;

/** The point of the centreline at a length along the vessel; the polyline is scaled to the vessel's length. */
function pointAt({ line: points, lengthMm }: WorkingTarget, alongMm: number): Vec3 {
  const steps = points.slice(1).map((point, i) => distance(points[i]!, point));
  const whole = steps.reduce((sum, step) => sum + step, 0);
  let rest = Math.min(1, Math.max(0, alongMm / lengthMm)) * whole;
  for (const [i, step] of steps.entries()) {
    if (rest <= step && step > 0) return lerp(points[i]!, points[i + 1]!, rest / step);
    rest -= step;
  }
  return points.at(-1)!;
}

/**
 * The scale and position at which the whole lesion fits the picture, with room for the letters at its edges. If that would make the
 * landing zone too small to read, the zone is centred and the far parts are left out.
 */
function fitted(
  target: WorkingTarget,
  parts: readonly ViewPart[],
  view: View,
): { projection: Projection; perMm: number } {
  const { landing } = target;
  const flat = projectionOf(view, [0, 0, 0], 1, { x: 0, y: 0 });
  const zone = stretch((mm) => onPicture(flat, pointAt(target, mm)), landing.from_mm, landing.to_mm);
  const extent = extentOf(framedParts(parts), flat)!;
  const whole = Math.min(
    MOST_PER_MM,
    ROOM.width / (extent.right - extent.left),
    ROOM.height / (extent.bottom - extent.top),
  );
  const least = Math.min(MOST_PER_MM, LEAST_ZONE_PX / landing.length_mm);
  const middle =
    whole >= least
      ? { x: (extent.left + extent.right) / 2, y: (extent.top + extent.bottom) / 2 }
      : zone[Math.floor(zone.length / 2)]!;
  const perMm = Math.max(whole, least);
  const place = {
    x: (BOX.left + BOX.right) / 2 - perMm * middle.x,
    y: (BOX.top + BOX.bottom) / 2 - perMm * middle.y,
  };
  return { projection: projectionOf(view, [0, 0, 0], perMm, place), perMm };
}
