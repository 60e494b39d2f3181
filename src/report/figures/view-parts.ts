/** The parts of the lesion with their colours and patterns, and a picture of them, for the drawn views. */
import { tenTo } from '../../foundation/power.js';
import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { trimmed } from '../words.js';
import type { LegendItem } from './legend.js';
import { COLOURS, GRID, MUTED } from './palette.js';
import { encodePng } from './png.js';
import { type Picture, rasteriseDeep } from './raster.js';
import { type Pattern, patterned } from './raster-ink.js';
import type { Projection } from './raster-samples.js';
import { type Box, element, label, line, textWidth, wrapText } from './svg.js';
import type { View } from './view-axes.js';

/** A surface to show. `whole` is one surface of the blood pool; roles outside the lesion are not drawn. */
export interface ViewPart {
  role: string;
  mesh: TriangleMesh;
}

interface Look {
  role: string;
  text: string;
  /** Which blood, for the legend. */
  blood?: 'deoxygenated side' | 'oxygenated side';
  colour: string;
  pattern?: Pattern;
  /** Drawn behind everything else, so that it hides nothing, and ignored when the picture is fitted. */
  isBehind?: boolean;
}

/**
 * Convention of anatomists: pulmonary arteries, with deoxygenated blood, in blue; pulmonary veins in red. Each role except the sac also has
 * its own pattern, for grey printing.
 */
const LOOKS: readonly Look[] = [
  {
    role: 'feeder',
    text: 'feeding artery',
    blood: 'deoxygenated side',
    colour: COLOURS.blue,
    pattern: 'rising',
  },
  {
    role: 'systemic-feeder',
    text: 'systemic feeding artery',
    blood: 'oxygenated side',
    colour: COLOURS.orange,
    pattern: 'falling',
  },
  { role: 'sac', text: 'sac', colour: COLOURS.purple },
  {
    role: 'drain',
    text: 'draining vein',
    blood: 'oxygenated side',
    colour: COLOURS.vermilion,
    pattern: 'dots',
  },
  {
    role: 'branch',
    text: 'side branch',
    colour: COLOURS.skyBlue,
    pattern: 'level',
  },
  { role: 'airway', text: 'airway', colour: COLOURS.yellow, pattern: 'upright' },
  { role: 'whole', text: 'lesion (one surface)', colour: '#b8b8b8' },
  { role: 'unnamed', text: 'not measured', colour: '#c9c9c9' },
  { role: 'left-out', text: 'left out past the points of the case', colour: '#ececec', isBehind: true },
];

const lookOf = (role: string): Look | undefined => LOOKS.find((look) => look.role === role);

/** The surfaces of the lesion, without empty ones. */
export const lesionParts = <T extends ViewPart>(parts: readonly T[]): T[] =>
  parts.filter((part) => lookOf(part.role) && part.mesh.triangles.length > 0);

/** The parts that a picture is fitted to; those drawn behind them may extend beyond it. */
export const framedParts = <T extends ViewPart>(parts: readonly T[]): T[] =>
  parts.filter((part) => !lookOf(part.role)?.isBehind);

/** Words of the roles that occur, in the order of the legend. */
export const shownWords = (parts: readonly ViewPart[]): string[] =>
  LOOKS.filter(({ role }) => parts.some((part) => part.role === role)).map(({ text }) => text);

/** Legend entries of the roles that occur; the samples are painted like the parts. */
export const partLegend = (parts: readonly ViewPart[]): LegendItem[] =>
  LOOKS.filter(({ role }) => parts.some((part) => part.role === role)).map(
    ({ text, blood, colour, pattern }) => ({
      text: blood ? `${text}, ${blood}` : text,
      sample: (x, y) =>
        imageSvg(swatch(colour, pattern), { left: x, right: x + 28, top: y - 7, bottom: y + 7 }) +
        element('rect', { x, y: y - 7, width: 28, height: 14, fill: 'none', stroke: COLOURS.black }),
    }),
  );

/** A sample of a colour and pattern as the raster paints it, as a PNG. */
export function swatch(colour: string, pattern: Pattern | undefined, width = 28, height = 14): Uint8Array {
  const rgb = new Uint8Array(3 * width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++)
      rgb.set(patterned(rgbOf(colour), pattern, 2 * x, 2 * y), 3 * (y * width + x));
  return encodePng(rgb, width, height);
}

/** A parallel projection that shows `centre` (mm) at a position in the picture (pixels). */
export function projectionOf(
  view: View,
  centre: Vec3,
  perMm: number,
  at: { x: number; y: number },
): Projection {
  const row = ([x, y, z]: Vec3, offset: number): readonly [number, number, number, number] => [
    x * perMm,
    y * perMm,
    z * perMm,
    offset - perMm * (x * centre[0] + y * centre[1] + z * centre[2]),
  ];
  return [row(view.right, at.x), row(view.down, at.y), row(view.away, 0)];
}

/** Position of a point (mm) in the picture, pixels. */
export function onPicture([right, down]: Projection, [x, y, z]: Vec3): { x: number; y: number } {
  const on = ([a, b, c, offset]: Projection[0]): number => a * x + b * y + c * z + offset;
  return { x: on(right), y: on(down) };
}

/** The bounding box of the parts in the picture, pixels; undefined if there is no vertex. */
export function extentOf(parts: readonly ViewPart[], [right, down]: Projection): Box | undefined {
  let [left, most, top, bottom] = [Infinity, -Infinity, Infinity, -Infinity];
  const [rx, ry, rz, r] = right;
  const [dx, dy, dz, d] = down;
  for (const { mesh } of parts) {
    const { positions: p, triangles } = mesh;
    // a vertex is a corner of six triangles
    const seen = new Uint8Array(p.length / 3);
    for (let k = 0; k < triangles.length; k++) {
      const v = triangles[k]!;
      if (seen[v] === 1) continue;
      seen[v] = 1;
      const i = 3 * v;
      const x = rx * p[i]! + ry * p[i + 1]! + rz * p[i + 2]! + r;
      const y = dx * p[i]! + dy * p[i + 1]! + dz * p[i + 2]! + d;
      if (x < left) left = x;
      if (x > most) most = x;
      if (y < top) top = y;
      if (y > bottom) bottom = y;
    }
  }
  return left <= most && top <= bottom ? { left, right: most, top, bottom } : undefined;
}

/**
 * The picture of the parts in a box of the figure; the projection counts pixels from the figure's corner.
 * `hides(point, insideMm)`: whether the picture shows something in front of a point that is this deep in its vessel.
 */
export function pictureOf(
  parts: readonly ViewPart[],
  projection: Projection,
  perMm: number,
  box: Box,
): { svg: string; hides: (point: Vec3, insideMm: number) => boolean } {
  const [width, height] = [box.right - box.left, box.bottom - box.top];
  const moved: Projection = [
    [projection[0][0], projection[0][1], projection[0][2], projection[0][3] - box.left],
    [projection[1][0], projection[1][1], projection[1][2], projection[1][3] - box.top],
    projection[2],
  ];
  const painted = parts.map((part) => {
    const look = lookOf(part.role)!;
    return { mesh: part.mesh, colour: rgbOf(look.colour), pattern: look.pattern, isBehind: look.isBehind };
  });
  const picture = rasteriseDeep(painted, moved, width, height);
  const hides = (point: Vec3, insideMm: number): boolean => {
    const [at, [a, b, c, offset]] = [onPicture(moved, point), moved[2]];
    const depth = a * point[0] + b * point[1] + c * point[2] + offset;
    return picture.depthAt(at.x, at.y) < depth - (insideMm + HIDDEN_FROM_MM) * perMm;
  };
  return { svg: drawnSvg(picture, box.left, box.top), hides };
}

/** A drawn picture whose left upper corner is at a position in the figure; its white margins are left out. */
export function drawnSvg(picture: Picture, x: number, y: number): string {
  const [left, top] = [x + picture.left, y + picture.top];
  const { pixels, width, height, channels } = picture;
  const png = encodePng(pixels, width, height, channels);
  return imageSvg(png, { left, right: left + width, top, bottom: top + height });
}

/** The frame of one picture among several. */
export const panelFrame = (box: Box): string =>
  element('rect', {
    x: box.left + 2,
    y: box.top,
    width: box.right - box.left - 4,
    height: box.bottom - box.top,
    fill: 'none',
    stroke: GRID,
  });

/** Its title below it, in two lines at most. */
export const panelTitle = (title: string, box: Box): string =>
  wrapText(title, box.right - box.left - 20, 2, 12)
    .map((text, row) =>
      label(text, (box.left + box.right) / 2, box.bottom + 16 + row * 15, { anchor: 'middle', size: 12 }),
    )
    .join('');

/** Anything less than this in front of a point's own wall does not count as hiding it. */
const HIDDEN_FROM_MM = 1;

/** What the dashed leaders of hidden points mean. */
export const HIDDEN_NOTE = 'Dashed leader: the point lies behind what is drawn.';

/** A picture in its box of the figure. */
export const imageSvg = (png: Uint8Array, box: Box): string =>
  element('image', {
    x: box.left,
    y: box.top,
    width: box.right - box.left,
    height: box.bottom - box.top,
    href: `data:image/png;base64,${Buffer.from(png).toString('base64')}`,
  });

/** A line from a point to its name. */
interface Leader {
  x: number;
  y: number;
  end: { x: number; y: number };
}

const LETTER_SIZE = 13;
/** Offsets tried to move a letter along its edge, px. */
const GIVE_WAY = 22;

/** The direction letters in the middle of each edge, or next to it if a leader passes through. */
export function lettersSvg({ letters }: View, box: Box, leaders: readonly Leader[] = []): string {
  const [x, y] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const letter = (text: string, atX: number, atY: number, anchor: 'start' | 'middle' | 'end'): string =>
    text === ''
      ? ''
      : label(text, atX, atY, { anchor, size: LETTER_SIZE, bold: true, fill: MUTED, halo: true });
  const free = (text: string, atX: number): number => {
    const half = (textWidth(text, LETTER_SIZE) + 8) / 2;
    const met = leaders.flatMap((leader) => heightsAt(leader, atX - half, atX + half));
    const ways = [0, 1, -1, 2, -2, 3, -3, 4, -4].map((step) => y + step * GIVE_WAY);
    return ways.find((way) => met.every(([low, high]) => high < way - 12 || low > way + 12)) ?? y;
  };
  const wide = (text: string): number => textWidth(text, LETTER_SIZE) / 2;
  return [
    letter(letters.left, box.left + 7, free(letters.left, box.left + 7 + wide(letters.left)) + 4, 'start'),
    letter(letters.right, box.right - 7, free(letters.right, box.right - 7 - wide(letters.right)) + 4, 'end'),
    letter(letters.top, x, box.top + 14, 'middle'),
    letter(letters.bottom, x, box.bottom - 5, 'middle'),
  ].join('');
}

/** Lowest and highest y of a leader between two x values; empty if it does not reach them. */
function heightsAt({ x, y, end }: Leader, left: number, right: number): [number, number][] {
  const [from, to] = [Math.max(left, Math.min(x, end.x)), Math.min(right, Math.max(x, end.x))];
  if (from > to) return [];
  const on = (at: number): number => (x === end.x ? y : y + ((at - x) / (end.x - x)) * (end.y - y));
  return [[Math.min(on(from), on(to)), Math.max(on(from), on(to))]];
}

/** A scale bar of a round length, at most `most` pixels long, with its length. */
export function scaleBar(perMm: number, most: number, x: number, y: number): string {
  const about = most / perMm;
  const power = tenTo(Math.floor(Math.log10(about)));
  const length = ([5, 2].find((step) => step * power <= about) ?? 1) * power;
  const end = x + length * perMm;
  return (
    line(x, y, end, y, COLOURS.black, 2) +
    line(x, y - 5, x, y + 5, COLOURS.black, 2) +
    line(end, y - 5, end, y + 5, COLOURS.black, 2) +
    label(`${trimmed(length)} mm`, end + 8, y + 4, { size: 12, fill: MUTED })
  );
}

/** Red, green and blue of `#rrggbb`. */
export function rgbOf(hex: string): [number, number, number] {
  const value = Number.parseInt(hex.slice(1), 16);
  return [(value >> 16) & 255, (value >> 8) & 255, value & 255];
}
