import type { Vec3 } from '../../foundation/vector.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import type { Result } from '../../result/result.generated.js';
import { orderedVessels, trimmed } from '../words.js';
import { legendStrip } from './axes.js';
import type { Figure } from './figures.js';
import { COLOURS, MUTED } from './palette.js';
import { encodePng } from './png.js';
import { type Projection, rasterise } from './raster.js';
import { element, figure, fitText, label, line, wrapText } from './svg.js';

/** A surface to show. `whole` is one surface of the blood pool; roles beside the lesion are not drawn. */
export interface ViewPart {
  role: string;
  mesh: TriangleMesh;
}

export interface ViewMark {
  text: string;
  atMm: Vec3;
}

export interface ViewInput {
  parts: readonly ViewPart[];
  /** Patient axes of the coordinates; `unknown`: the views are named by the axes of the file. */
  frame: 'LPS' | 'RAS' | 'unknown';
  /** Side of the lesion: the lateral view is taken from there. */
  side?: 'left' | 'right';
  marks: readonly ViewMark[];
}

/** Anatomists' convention: pulmonary arteries, with deoxygenated blood, in blue; pulmonary veins in red. */
const ROLES: readonly (readonly [string, string, string])[] = [
  ['feeder', 'feeding artery', COLOURS.blue],
  ['systemic-feeder', 'systemic feeding artery', COLOURS.orange],
  ['sac', 'sac', COLOURS.purple],
  ['drain', 'draining vein', COLOURS.vermilion],
  ['branch', 'side branch', COLOURS.skyBlue],
  ['airway', 'airway', COLOURS.yellow],
  ['whole', 'lesion (one surface)', '#b8b8b8'],
];

const PANEL = { width: 370, height: 300, model: 190 };

/** Names of the vessels at their far ends, and the middle of each landing zone. */
export function viewMarks(result: Result): ViewMark[] {
  return orderedVessels(result).flatMap(([name, vessel]) => {
    const end = vessel.centreline_mm?.[0];
    const zone = vessel.landing?.centre_mm;
    return [
      ...(end ? [{ text: name, atMm: end }] : []),
      ...(zone ? [{ text: `${name} landing`, atMm: zone }] : []),
    ];
  });
}

/**
 * Draws the lesion from three sides, with names and landing zones, as one SVG that embeds the pictures.
 * Parallel projection, one scale for all three. Undefined when there is no surface of the lesion to draw.
 */
export function renderedViews(input: ViewInput): Figure | undefined {
  const parts = input.parts.filter(
    (part) => ROLES.some(([role]) => role === part.role) && part.mesh.triangles.length > 0,
  );
  const bounds = boundsOf(parts);
  if (!bounds) return undefined;
  const perMm = PANEL.model / Math.max(...bounds.size, 1e-6);
  const colours = new Map(ROLES.map(([role, , colour]) => [role, rgbOf(colour)]));
  const painted = parts.map((part) => ({ mesh: part.mesh, colour: colours.get(part.role)! }));
  const views = viewsOf(input);
  const panels = views.map((view, i) => {
    const projection = projectionOf(view, bounds.centre, perMm);
    const png = encodePng(
      rasterise(painted, projection, PANEL.width, PANEL.height),
      PANEL.width,
      PANEL.height,
    );
    const [left, top] = [10 + i * PANEL.width, 50];
    return [
      element('image', {
        x: left,
        y: top,
        width: PANEL.width,
        height: PANEL.height,
        href: `data:image/png;base64,${Buffer.from(png).toString('base64')}`,
      }),
      ...wrapText(view.title, PANEL.width - 20, 2, 12).map((text, row) =>
        label(text, left + PANEL.width / 2, top + PANEL.height + 16 + row * 15, {
          anchor: 'middle',
          size: 12,
        }),
      ),
      ...marksOf(input.marks, projection, left, top),
    ].join('');
  });
  const width = 20 + views.length * PANEL.width;
  const shown = ROLES.filter(([role]) => parts.some((part) => part.role === role));
  const under = 50 + PANEL.height + 44;
  const legend = legendStrip(
    shown.map(([, text, fill]) => ({
      text,
      sample: (x: number, y: number) =>
        element('rect', { x, y: y - 6, width: 28, height: 12, fill, stroke: COLOURS.black }),
    })),
    20,
    width - 150,
    under,
  );
  const alt = `The lesion from three sides: ${views.map((view) => view.title).join('; ')}. Shown: ${shown.map(([, text]) => text).join(', ')}.${
    input.marks.length > 0 ? ` Named: ${input.marks.map((mark) => mark.text).join(', ')}.` : ''
  }`;
  const svg = figure(
    'views',
    { width, height: under + legend.height + 10 },
    { title: 'Views of the lesion', desc: alt },
    label('Views of the lesion', 20, 26, { size: 16, bold: true }),
    ...panels,
    scaleBar(perMm, width - 140, under + 12),
    legend.svg,
  );
  return { name: 'views.svg', svg, alt };
}

interface View {
  title: string;
  right: Vec3;
  down: Vec3;
  away: Vec3;
}

/** The three views in the axes of the file. LPS: x to the patient's left, y to the back, z to the head. */
function viewsOf({ frame, side }: ViewInput): View[] {
  const turn = ([x, y, z]: Vec3): Vec3 => (frame === 'RAS' ? [-x, -y, z] : [x, y, z]);
  const known = frame !== 'unknown';
  const view = (patient: string, file: string, right: Vec3, down: Vec3, away: Vec3): View => ({
    title: known ? patient : `${file}; patient directions unknown`,
    right: turn(right),
    down: turn(down),
    away: turn(away),
  });
  const lateral =
    side === 'right' && known
      ? view('from the right, front to the right', '', [0, -1, 0], [0, 0, -1], [1, 0, 0])
      : view(
          'from the left, front to the left',
          'seen against the x axis',
          [0, 1, 0],
          [0, 0, -1],
          [-1, 0, 0],
        );
  return [
    view(
      'from the front, patient’s left to the right',
      'seen along the y axis',
      [1, 0, 0],
      [0, 0, -1],
      [0, 1, 0],
    ),
    lateral,
    view(
      'from below, front to the top, as on axial CT',
      'seen along the z axis',
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ),
  ];
}

function projectionOf(view: View, centre: Vec3, perMm: number): Projection {
  const row = ([x, y, z]: Vec3, offset: number): readonly [number, number, number, number] => [
    x * perMm,
    y * perMm,
    z * perMm,
    offset - perMm * (x * centre[0] + y * centre[1] + z * centre[2]),
  ];
  return [row(view.right, PANEL.width / 2), row(view.down, PANEL.height / 2), row(view.away, 0)];
}

function boundsOf(parts: readonly ViewPart[]): { centre: Vec3; size: Vec3 } | undefined {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (const { mesh } of parts) {
    for (const vertex of mesh.triangles) {
      for (let k = 0; k < 3; k++) {
        const value = mesh.positions[3 * vertex + k]!;
        if (value < low[k]!) low[k] = value;
        if (value > high[k]!) high[k] = value;
      }
    }
  }
  if (!low.every(Number.isFinite) || !high.every(Number.isFinite)) return undefined;
  const at = (k: number): number => (low[k]! + high[k]!) / 2;
  return {
    centre: [at(0), at(1), at(2)],
    size: [high[0]! - low[0]!, high[1]! - low[1]!, high[2]! - low[2]!],
  };
}

/** Names in two columns beside the model, joined to their points by leaders, so that they never cover each other. */
function marksOf(marks: readonly ViewMark[], projection: Projection, left: number, top: number): string[] {
  const placed = marks.map(({ text, atMm: [x, y, z] }) => {
    const on = ([a, b, c, offset]: Projection[0]): number => a * x + b * y + c * z + offset;
    return { text: fitText(text, 84, 11), x: left + on(projection[0]), y: top + on(projection[1]) };
  });
  const middle = left + PANEL.width / 2;
  return [false, true].flatMap((onRight) => {
    const column = placed.filter((mark) => mark.x > middle === onRight).sort((a, b) => a.y - b.y);
    const edge = onRight ? left + PANEL.width - 82 : left + 82;
    let last = top;
    return column.map((mark) => {
      last = Math.max(mark.y, last + 15);
      const anchor = onRight ? 'start' : 'end';
      return (
        line(mark.x, mark.y, edge, last - 4, COLOURS.black, 0.8) +
        element('circle', { cx: mark.x, cy: mark.y, r: 3, fill: '#ffffff', stroke: COLOURS.black }) +
        label(mark.text, edge + (onRight ? 3 : -3), last, { anchor, size: 11, halo: true })
      );
    });
  });
}

/** A bar of a round length, about a quarter of the model's box. */
function scaleBar(perMm: number, x: number, y: number): string {
  const about = PANEL.model / 4 / perMm;
  const power = 10 ** Math.floor(Math.log10(about));
  const length = ([5, 2].find((step) => step * power <= about) ?? 1) * power;
  const end = x + length * perMm;
  return (
    line(x, y, end, y, COLOURS.black, 2) +
    line(x, y - 5, x, y + 5, COLOURS.black, 2) +
    line(end, y - 5, end, y + 5, COLOURS.black, 2) +
    label(`${trimmed(length)} mm`, end + 8, y + 4, { size: 12, fill: MUTED })
  );
}

function rgbOf(hex: string): [number, number, number] {
  const value = Number.parseInt(hex.slice(1), 16);
  return [(value >> 16) & 255, (value >> 8) & 255, value & 255];
}
