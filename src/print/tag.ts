import type { Manifold } from 'manifold-3d/manifold';
import { add, cross, dot, scale, type Vec3 } from '../foundation/vector.js';
import { HEIGHT, type Stroke, textStrokes, textUnits } from './stroke-font.js';
import type { Workshop } from './workshop.js';

/** Patient directions of the print coordinates; undefined if the case does not state them. */
export interface TagAxes {
  /** The reader's right, when the text reads from left to right: the patient's left. */
  right: Vec3;
  up: Vec3;
}

export type Frame = 'LPS' | 'RAS' | 'unknown';

/** The tag faces anteriorly: it is read from the front, with the patient's right on the reader's left. */
export function tagAxes(frame: Frame): TagAxes {
  return { right: frame === 'RAS' ? [-1, 0, 0] : [1, 0, 0], up: [0, 0, 1] };
}

export interface TagText {
  caseId: string;
  scale: number;
  side?: 'left' | 'right';
  frame: Frame;
  /** Vessels that were thickened. */
  notToSize: readonly string[];
  /** For a cut model. */
  half?: 'A' | 'B';
  /** Number of the model. */
  model?: string;
  /** A mark for everything of this model. */
  mark?: string;
}

/** Longest line of the tag, characters. */
const LINE = 9;
const MOST_ID_LINES = 3;

/** `1:1`, `2:1`, `1:2`, else `x 1.25`. */
export function scaleText(scaleFactor: number): string {
  const whole = (x: number): boolean => Math.abs(x - Math.round(x)) < 1e-9 && Math.round(x) >= 1;
  if (whole(scaleFactor)) return `${Math.round(scaleFactor)}:1`;
  if (whole(1 / scaleFactor)) return `1:${Math.round(1 / scaleFactor)}`;
  return `X ${Number(scaleFactor.toPrecision(4))}`;
}

/** Lines of the tag from the top. With known axes the first reads `R S L`, the last `I`: right, superior, left, inferior. */
export function tagLines(text: TagText): string[] {
  const scaled = scaleText(text.scale);
  const sided = `${text.side?.toUpperCase() ?? ''} ${scaled}`.trim();
  const lines = broken(text.caseId.toUpperCase(), MOST_ID_LINES);
  if (sided.length <= LINE) lines.push(sided);
  else lines.push(text.side!.toUpperCase(), scaled);
  if (text.half) lines.push(`HALF ${text.half}`);
  if (text.model !== undefined) lines.push(text.model);
  if (text.notToSize.length > 0)
    lines.push('THICKENED', ...broken(text.notToSize.join(' ').toUpperCase(), MOST_ID_LINES));
  if (text.mark !== undefined)
    lines.push(...broken(text.mark.replaceAll(',', '').toUpperCase(), MOST_ID_LINES));
  const inner = Math.max(LINE, ...lines.map((l) => l.length));
  if (text.frame !== 'unknown') {
    const gap = inner - 3;
    lines.unshift(`R${' '.repeat(Math.floor(gap / 2))}S${' '.repeat(Math.ceil(gap / 2))}L`);
    lines.push('I');
  }
  return lines;
}

function broken(text: string, most: number): string[] {
  const lines: string[] = [];
  let rest = text.trim();
  while (rest !== '' && lines.length < most) {
    if (rest.length <= LINE) {
      lines.push(rest);
      break;
    }
    const cut = Math.max(rest.lastIndexOf(' ', LINE), rest.lastIndexOf('-', LINE - 1) + 1);
    const end = cut > 1 ? cut : LINE;
    lines.push(rest.slice(0, end).trim());
    rest = rest.slice(end).trim();
  }
  return lines;
}

/** Measures of the tag, mm. */
export interface TagSize {
  widthMm: number;
  heightMm: number;
  plateMm: number;
  reliefMm: number;
}

const MARGIN_MM = 2;
const PLATE_MM = 2;
const RELIEF_MM = 0.8;
/** Line width of the letters, mm: raised, so not a free-standing wall; two lines of a 0.4 mm nozzle. Common practice, no source. */
const STROKE_MM = 0.8;

/**
 * A plate with raised letters, and the letters separately for pictures: x to the right, y up, z towards the reader, its middle at the
 * origin.
 */
export function tagPlate(
  workshop: Workshop,
  lines: readonly string[],
  gapMm: number,
): { solid: Manifold; letters?: Manifold; size: TagSize } {
  const stroke = STROKE_MM;
  const unit = stroke + gapMm;
  const lineMm = HEIGHT * unit + stroke;
  const pitch = lineMm + 2 * gapMm;
  const widest = Math.max(...lines.map(textUnits)) * unit + stroke;
  // Whole millimetres, because the tag is a check point of known size.
  const widthMm = Math.ceil(widest + 2 * MARGIN_MM);
  const heightMm = Math.ceil(pitch * (lines.length - 1) + lineMm + 2 * MARGIN_MM);
  const outlines: [number, number][][] = [];
  lines.forEach((line, i) => {
    const left = -(textUnits(line) * unit) / 2;
    const bottom = heightMm / 2 - MARGIN_MM - lineMm - i * pitch + stroke / 2;
    for (const run of textStrokes(line))
      outlines.push(...strokeOutlines(run, unit, left, bottom, stroke / 2));
  });
  const { Manifold, CrossSection } = workshop.kernel;
  const plate = workshop.keep(Manifold.cube([widthMm, heightMm, PLATE_MM], true));
  if (outlines.length === 0)
    return { solid: plate, size: { widthMm, heightMm, plateMm: PLATE_MM, reliefMm: 0 } };
  const drawn = new CrossSection(outlines, 'NonZero');
  const raised = workshop.keep(Manifold.extrude(drawn, RELIEF_MM + 0.5));
  drawn.delete();
  const letters = workshop.keep(raised.translate([0, 0, PLATE_MM / 2 - 0.5]));
  return {
    solid: workshop.union([plate, letters]),
    letters,
    size: { widthMm, heightMm, plateMm: PLATE_MM, reliefMm: RELIEF_MM },
  };
}

/** Round-ended bars around each piece of a stroke, counter-clockwise. */
function strokeOutlines(
  run: Stroke,
  unit: number,
  left: number,
  bottom: number,
  radius: number,
): [number, number][][] {
  const at = run.map(([x, y]): [number, number] => [left + x * unit, bottom + y * unit]);
  const pieces: [number, number][][] = [];
  for (let i = 0; i + 1 < at.length; i++) pieces.push(stadium(at[i], at[i + 1], radius));
  return pieces;
}

const CORNERS = 12;

function stadium(
  a: readonly [number, number],
  b: readonly [number, number],
  radius: number,
): [number, number][] {
  const turn = Math.atan2(b[1] - a[1], b[0] - a[0]);
  const points: [number, number][] = [];
  for (let i = 0; i < CORNERS; i++) {
    // Half the corners around b, half around a; a stroke of one point becomes a dot.
    const angle = turn - Math.PI / 2 + (2 * Math.PI * (i + 0.5)) / CORNERS;
    const [x, y] = i < CORNERS / 2 ? b : a;
    points.push([x + radius * Math.cos(angle), y + radius * Math.sin(angle)]);
  }
  return points;
}

/** Turns a plate so that it reads along `axes`, with its middle at `centre`. */
export function placeTag(workshop: Workshop, plate: Manifold, axes: TagAxes, centre: Vec3): Manifold {
  return workshop.place(plate, axes.right, axes.up, cross(axes.right, axes.up), centre);
}

/** The place of a tag: the middle of its plate and the two ends of its stem. */
export interface TagPlace {
  centre: Vec3;
  stemFrom: Vec3;
  stemTo: Vec3;
  lengthMm: number;
}

interface Probe {
  /** Distance from a point along a direction to the model; undefined if it misses. */
  hit(from: Vec3, direction: Vec3): number | undefined;
  /** Thickness of the model behind a hit. */
  depth(at: Vec3, direction: Vec3): number;
  /** True if something else is in the way. */
  isBlocked(from: Vec3, direction: Vec3, lengthMm: number): boolean;
  /** True if a check point must stay clear. */
  isKept(at: Vec3): boolean;
  /** True if a plate centred here would touch another part. */
  plateTouches(centre: Vec3): boolean;
}

const CLEAR_MM = 5;

/**
 * Looks for a stem along one of the four directions of the tag's plane, from outside the box straight into the model towards `anchor` (or a
 * point a few mm next to it), where the model is thick and nothing is in the way; the shortest such stem.
 */
export function findTagPlace(
  box: { min: Vec3; max: Vec3 },
  anchors: readonly Vec3[],
  axes: TagAxes,
  size: TagSize,
  stemMm: number,
  probe: Probe,
): TagPlace | undefined {
  const outward = cross(axes.right, axes.up);
  let best: TagPlace | undefined;
  for (const anchor of anchors) {
    for (const [axis, half, side] of [
      [scale(axes.up, -1), size.heightMm / 2, axes.right],
      [axes.up, size.heightMm / 2, axes.right],
      [axes.right, size.widthMm / 2, axes.up],
      [scale(axes.right, -1), size.widthMm / 2, axes.up],
    ] as const) {
      const far = Math.max(dot(box.min, axis), dot(box.max, axis)) + CLEAR_MM;
      const edge = add(anchor, scale(axis, far - dot(anchor, axis)));
      const inwards = scale(axis, -1);
      const r = stemMm / 2;
      const starts = [
        edge,
        ...[1, -1].flatMap((s) => [add(edge, scale(side, s * r)), add(edge, scale(outward, s * r))]),
      ];
      const hits = starts.map((from) => probe.hit(from, inwards));
      if (hits.some((h) => h === undefined)) continue;
      const near = hits[0]!;
      const deepest = Math.max(...(hits as number[]));
      if (deepest - Math.min(...(hits as number[])) > 1.5 * stemMm) continue;
      const entry = add(edge, scale(inwards, near));
      const thick = probe.depth(add(edge, scale(inwards, near + 0.01)), inwards);
      if (thick < 1.2 * stemMm || thick < 2 + (deepest - near)) continue;
      if (starts.some((from) => probe.isBlocked(from, inwards, near)) || probe.isKept(entry)) continue;
      const lengthMm = near;
      if (best && best.lengthMm <= lengthMm + 1e-9) continue;
      const centre = add(edge, scale(axis, half));
      if (probe.plateTouches(centre)) continue;
      best = {
        centre,
        stemFrom: add(edge, scale(axis, MARGIN_MM * 0.75)),
        stemTo: add(edge, scale(inwards, Math.min(deepest + 1, near + thick / 2))),
        lengthMm,
      };
    }
  }
  return best;
}
