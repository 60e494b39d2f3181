import type { Vec3 } from '../../foundation/vector.js';
import { boundingBox } from '../../mesh/measures.js';
import type { Result } from '../../result/result.generated.js';
import { orderedVessels } from '../words.js';
import type { Figure } from './figures.js';
import { fileNamer } from './file-names.js';
import { COLOURS, MUTED } from './palette.js';
import { type Box, figure, label, slug, wrapText } from './svg.js';
import { sideViews, type View, type ViewFrame } from './view-axes.js';
import { columnWidth, labelsSvg, placeLabels } from './view-labels.js';
import {
  framedParts,
  HIDDEN_NOTE,
  lesionParts,
  lettersSvg,
  onPicture,
  partLegend,
  pictureOf,
  projectionOf,
  scaleBar,
  shownWords,
  type ViewPart,
  panelFrame,
  panelTitle,
} from './view-parts.js';
import { type WorkingTarget, workingFigure } from './working-view.js';

export type { ViewPart } from './view-parts.js';
export { type WorkingTarget, workingTargets } from './working-view.js';

export interface ViewMark {
  text: string;
  atMm: Vec3;
  /**
   * Calibre of its vessel. The vessel's own wall, seen obliquely, is up to about this far in front; anything farther in front hides the
   * point.
   */
  insideMm: number;
}

export interface ViewInput {
  parts: readonly ViewPart[];
  /** Patient axes of the coordinates; `unknown`: the views are named by the axes of the file. */
  frame: ViewFrame;
  /** Side of the lesion; the lateral view is taken from this side. */
  side?: 'left' | 'right';
  marks: readonly ViewMark[];
  /** Landing zones to show as the C-arm sees them; `workingTargets` of the result. */
  working?: readonly WorkingTarget[];
}

/** A drawn view; `vessel` names the one whose landing zone it shows. */
export interface ViewFigure extends Figure {
  vessel?: string;
}

const PANEL = { width: 370, height: 300, model: 178, gutter: 26 };
const COLUMNS = 3;

/** Names of the vessels at their far ends, and the middle of each landing zone. */
export function viewMarks(result: Result): ViewMark[] {
  return orderedVessels(result).flatMap(([name, vessel]) => {
    const end = vessel.centreline_mm?.[0];
    const zone = vessel.landing?.centre_mm;
    const insideMm = vessel.calibre_mm.max;
    return [
      ...(end ? [{ text: name, atMm: end, insideMm }] : []),
      ...(zone ? [{ text: `${name} landing`, atMm: zone, insideMm }] : []),
    ];
  });
}

/**
 * Drawn views of the lesion as SVG files with embedded pictures, in parallel projection: first `views.svg` from the
 * front, the back, both sides and below, at one scale; then `working-NAME.svg` for each landing zone, as the C-arm sees it. Without
 * patient axes there are no working views; without a surface of the lesion the list is empty.
 */
export function renderedViews(input: ViewInput): ViewFigure[] {
  const parts = lesionParts(input.parts);
  const bounds = boundsOf(framedParts(parts));
  if (!bounds) return [];
  const { frame } = input;
  const nameOf = fileNamer();
  const working =
    frame === 'unknown'
      ? []
      : (input.working ?? []).map((target) => ({
          ...workingFigure(target, parts, frame, nameOf(`working-${slug(target.name)}`)),
          vessel: target.name,
        }));
  return [sidesFigure(input, parts, bounds), ...working];
}

interface Bounds {
  centre: Vec3;
  size: Vec3;
}

function sidesFigure(input: ViewInput, parts: readonly ViewPart[], bounds: Bounds): Figure {
  const perMm = PANEL.model / Math.max(...bounds.size, 1e-6);
  const views = sideViews(input.frame, input.side);
  const rowHeight = PANEL.height + 46;
  const cell = (i: number): Box => {
    const left = 10 + (i % COLUMNS) * PANEL.width;
    const top = 42 + Math.floor(i / COLUMNS) * rowHeight;
    return { left, right: left + PANEL.width, top, bottom: top + PANEL.height };
  };
  const panels = views.map((view, i) => panelSvg(view, cell(i), perMm, bounds.centre, parts, input.marks));
  const legend = partLegend(parts);
  const key = cell(views.length);
  const alt = `The lesion from ${views.length} sides: ${views.map((view) => view.title).join('; ')}. Shown: ${shownWords(parts).join(', ')}.${
    input.marks.length > 0 ? ` Named: ${input.marks.map((mark) => mark.text).join(', ')}.` : ''
  }`;
  const known = input.frame !== 'unknown';
  const notes = [
    ...(known
      ? ['R right, L left, A anterior, P posterior,', 'H head, F feet.']
      : ['Letters: the axes of the file.']),
    'All views in one scale, parallel projection.',
    ...wrapText(HIDDEN_NOTE, 300, 2, 12),
  ];
  const [x, top] = [key.left + 50, key.top + 30];
  const under = top + 26 + legend.length * 24;
  const svg = figure(
    'views',
    { width: 20 + COLUMNS * PANEL.width, height: 42 + 2 * rowHeight },
    { title: 'Views of the lesion', desc: alt },
    label('Views of the lesion', 20, 26, { size: 16, bold: true }),
    ...panels,
    ...legend.map(
      ({ text, sample }, i) => sample(x, top + i * 24) + label(text, x + 38, top + 4 + i * 24, { size: 12 }),
    ),
    scaleBar(perMm, PANEL.model / 3, x, under),
    ...notes.map((text, i) => label(text, x, under + 32 + i * 17, { size: 12, fill: MUTED })),
  );
  return { name: 'views.svg', svg, alt };
}

function panelSvg(
  view: View,
  box: Box,
  perMm: number,
  centre: Vec3,
  parts: readonly ViewPart[],
  marks: readonly ViewMark[],
): string {
  const middle = (box.left + box.right) / 2;
  const projection = projectionOf(view, centre, perMm, { x: middle, y: (box.top + box.bottom) / 2 });
  const area = {
    left: box.left + PANEL.gutter,
    right: box.right - PANEL.gutter,
    top: box.top + 4,
    bottom: box.bottom - 20,
  };
  const picture = pictureOf(parts, projection, perMm, box);
  const points = marks.map(({ text, atMm, insideMm }) => ({
    text,
    ...onPicture(projection, atMm),
    hidden: picture.hides(atMm, insideMm),
  }));
  const { placed, leftOut } = placeLabels(points, area, columnWidth(10));
  return [
    picture.svg,
    panelFrame(box),
    labelsSvg(placed),
    lettersSvg(view, box, placed),
    leftOut > 0
      ? label(`${leftOut} more not named`, box.left + 26, box.bottom - 6, { size: 11, fill: COLOURS.black })
      : '',
    panelTitle(view.title, box),
  ].join('');
}

function boundsOf(parts: readonly ViewPart[]): Bounds | undefined {
  const boxes = parts.filter(({ mesh }) => mesh.triangles.length > 0).map(({ mesh }) => boundingBox(mesh));
  const low = [0, 1, 2].map((k) => Math.min(...boxes.map(({ min }) => min[k]!)));
  const high = [0, 1, 2].map((k) => Math.max(...boxes.map(({ max }) => max[k]!)));
  if (!low.every(Number.isFinite) || !high.every(Number.isFinite)) return undefined;
  const at = (k: number): number => (low[k]! + high[k]!) / 2;
  return {
    centre: [at(0), at(1), at(2)],
    size: [high[0]! - low[0]!, high[1]! - low[1]!, high[2]! - low[2]!],
  };
}
