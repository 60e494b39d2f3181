import { add, cross, dot, length, normalize, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import { boundingBox } from '../../mesh/measures.js';
import type { TriangleMesh } from '../../mesh/mesh.js';
import { WindingField } from '../../mesh/winding-field.js';
import type { Result } from '../../result/result.generated.js';
import type { Figure } from './figures.js';
import { COLOURS } from './palette.js';
import { rasterise } from './raster.js';
import type { Projection } from './raster-samples.js';
import { type Box, element, figure, label, line, slug } from './svg.js';
import { drawnSvg } from './view-parts.js';

type Gauge = NonNullable<Result['print']>['gauges'][number];

/** A side to look from; `right` and `up` in LPS axes. */
interface View {
  words: string;
  right: Vec3;
  up: Vec3;
}

const VIEWS: readonly View[] = [
  { words: 'from the front', right: [1, 0, 0], up: [0, 0, 1] },
  { words: 'from behind', right: [-1, 0, 0], up: [0, 0, 1] },
  { words: "from the patient's left", right: [0, 1, 0], up: [0, 0, 1] },
  { words: "from the patient's right", right: [0, -1, 0], up: [0, 0, 1] },
  { words: 'from above', right: [1, 0, 0], up: [0, 1, 0] },
  { words: 'from below', right: [1, 0, 0], up: [0, -1, 0] },
];

const SIZE = { width: 360, height: 300, model: 250 };
/** The small picture of the whole print that shows where the check point is. */
const WHOLE = { width: 108, height: 90, model: 80 };
const TOP = 44;
/** The positions of both pictures in the figure. */
const LARGE: Box = { left: 0, right: SIZE.width, top: TOP, bottom: TOP + SIZE.height };
const SMALL: Box = {
  left: SIZE.width - WHOLE.width - 6,
  right: SIZE.width - 6,
  top: TOP + 6,
  bottom: TOP + 6 + WHOLE.height,
};
/** The least extent of a sketch, mm and in multiples of the measured length, so that it is readable at half size. */
const LEAST_SHOWN_MM = 30;
const SHOWN = 2.2;
const GREY = [205, 205, 205] as const;
const INK = [90, 90, 90] as const;
const MARK = COLOURS.vermilion;

/**
 * One figure for each check point: the print from the side that shows the point best, with the caliper's jaws drawn in.
 * `model` (`isClosed`: watertight) and the `letters` of its tag in print coordinates; file names `G1.svg` and so on. Same input, same
 * bytes.
 */
export function gaugeSketches(
  gauges: readonly Gauge[],
  model: TriangleMesh,
  frame: 'LPS' | 'RAS' | 'unknown',
  { letters, isClosed = false }: { letters?: TriangleMesh; isClosed?: boolean } = {},
): Figure[] {
  if (model.triangles.length === 0) return [];
  const field = new WindingField(model);
  const views = VIEWS.map((view) => inFrame(view, frame));
  const pictures = new Map<View, string>();
  const drawn = (projection: Projection, { left, right, top, bottom }: Box): string =>
    drawnSvg(rasterise(painted, projection, right - left, bottom - top), left, top);
  // Drawn first, so that they take precedence where they share a face with the model.
  const painted = [
    ...(letters ? [{ mesh: letters, colour: INK }] : []),
    { mesh: model, colour: GREY, isClosed },
  ];
  const box = boundingBox(model);
  const largest = Math.max(...box.size, 1e-6);
  return gauges
    .filter((g) => g.print_mm !== undefined)
    .map((gauge) => {
      const view = views.reduce((a, b) => (score(b, gauge, field) > score(a, gauge, field) + 1e-9 ? b : a));
      const [from, to] = contacts(gauge, towards(view));
      const shownMm = Math.min(largest, Math.max(LEAST_SHOWN_MM, SHOWN * gauge.expected_mm));
      const perMm = SIZE.model / shownMm;
      const near = projectionOf(view, scale(add(from, to), 0.5), perMm, SIZE);
      const whole = projectionOf(view, box.centre, WHOLE.model / largest, WHOLE);
      const small = pictures.get(view) ?? drawn(whole, SMALL);
      pictures.set(view, small);
      return sketch(gauge, view, { near, large: drawn(near, LARGE), perMm, whole, small });
    });
}

function inFrame(view: View, frame: 'LPS' | 'RAS' | 'unknown'): View {
  const flip = (v: Vec3): Vec3 => (frame === 'RAS' ? [-v[0] || 0, -v[1] || 0, v[2]] : v);
  const [right, up] = [flip(view.right), flip(view.up)];
  if (frame !== 'unknown') return { ...view, right, up };
  const axis = (v: Vec3): string =>
    `${v.find((c) => c !== 0)! > 0 ? '+' : '-'}${'xyz'[v.findIndex((c) => c !== 0)]}`;
  return { words: `with ${axis(right)} to the right and ${axis(up)} up`, right, up };
}

const towards = (view: View): Vec3 => cross(view.right, view.up);

/** It counts most that both contacts are visible, then how much of the measured length is visible. */
function score(view: View, gauge: Gauge, field: WindingField): number {
  const toViewer = towards(view);
  const [from, to] = contacts(gauge, toViewer);
  const span = subtract(to, from);
  const shown = length(span) > 0 ? Math.sqrt(Math.max(0, 1 - (dot(span, toViewer) / length(span)) ** 2)) : 0;
  const alongShown = gauge.along ? Math.sqrt(Math.max(0, 1 - dot(gauge.along as Vec3, toViewer) ** 2)) : 1;
  const inSight = [from, to].filter((p) => {
    const outwards = normalize(subtract(p, scale(add(from, to), 0.5)));
    return !field.first(add(p, add(scale(outwards, 0.3), scale(toViewer, 0.05))), toViewer);
  }).length;
  return inSight + shown * alongShown;
}

/** Where the jaws touch, in print coordinates; for a diameter, across the vessel as seen from this side. */
function contacts(gauge: Gauge, toViewer: Vec3): [Vec3, Vec3] {
  const at = gauge.print_mm as Vec3;
  if (gauge.print_to_mm) return [at, gauge.print_to_mm as Vec3];
  const across = normalize(cross((gauge.along ?? [0, 0, 1]) as Vec3, toViewer));
  return [add(at, scale(across, -gauge.expected_mm / 2)), add(at, scale(across, gauge.expected_mm / 2))];
}

function projectionOf(
  view: View,
  centre: Vec3,
  perMm: number,
  size: { width: number; height: number },
): Projection {
  const row = (axis: Vec3, factor: number, offset: number): [number, number, number, number] => {
    const a = scale(axis, factor);
    return [a[0], a[1], a[2], offset - dot(a, centre)];
  };
  return [
    row(view.right, perMm, size.width / 2),
    row(view.up, -perMm, size.height / 2),
    row(towards(view), -perMm, 0),
  ];
}

const onScreen = (p: Vec3, [right, down]: Projection): [number, number] => [
  right[0] * p[0] + right[1] * p[1] + right[2] * p[2] + right[3],
  down[0] * p[0] + down[1] * p[1] + down[2] * p[2] + down[3],
];

/** The check point, large, and the whole print, small. */
interface Drawn {
  near: Projection;
  large: string;
  perMm: number;
  whole: Projection;
  small: string;
}

function sketch(gauge: Gauge, view: View, { near, large, perMm, whole, small }: Drawn): Figure {
  const ends = contacts(gauge, towards(view));
  const [from, to] = ends.map((p) => onScreen(p, near));
  const [x, y] = onScreen(scale(add(ends[0], ends[1]), 0.5), whole);
  const head = `${gauge.name}: ${gauge.expected_mm.toFixed(2)} mm`;
  const alt = `${head}. ${gauge.what ?? ''} The print is seen ${view.words}; two arrows show where the jaws touch; the small picture shows the whole print.`;
  const svg = figure(
    `gauge-${gauge.name}`,
    { width: SIZE.width, height: SIZE.height + TOP + 24 },
    { title: head, desc: alt },
    label(head, 12, 24, { size: 16, bold: true }),
    large,
    ...jaws([from[0], from[1] + TOP], [to[0], to[1] + TOP]),
    element('rect', {
      x: SMALL.left,
      y: SMALL.top,
      width: WHOLE.width,
      height: WHOLE.height,
      fill: '#ffffff',
      stroke: '#767676',
    }),
    small,
    element('circle', {
      cx: SMALL.left + x,
      cy: SMALL.top + y,
      r: 6,
      fill: 'none',
      stroke: MARK,
      'stroke-width': 2.5,
    }),
    label(`seen ${view.words}`, 12, TOP + SIZE.height + 14, { size: 12 }),
    scaleBar(perMm, SIZE.width - 100, TOP + SIZE.height + 8),
  );
  return { name: `${slug(gauge.name)}.svg`, svg, alt };
}

/** Two arrows that point at each other from outside, each with a bar for its jaw, and a thin line between them. */
function jaws(a: [number, number], b: [number, number]): string[] {
  const d = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const u: [number, number] = d > 0.5 ? [(b[0] - a[0]) / d, (b[1] - a[1]) / d] : [1, 0];
  const out: string[] = [line(a[0], a[1], b[0], b[1], '#000000', 1, '3 2')];
  for (const [p, s] of [
    [a, -1],
    [b, 1],
  ] as const) {
    const tail: [number, number] = [p[0] + s * u[0] * 24, p[1] + s * u[1] * 24];
    const side: [number, number] = [-u[1], u[0]];
    for (const [stroke, width] of [
      ['#ffffff', 6],
      [MARK, 2.5],
    ] as const) {
      out.push(line(tail[0], tail[1], p[0], p[1], stroke, width));
      out.push(
        line(p[0] + side[0] * 9, p[1] + side[1] * 9, p[0] - side[0] * 9, p[1] - side[1] * 9, stroke, width),
      );
    }
    const base: [number, number] = [p[0] + s * u[0] * 9, p[1] + s * u[1] * 9];
    const points = [
      p,
      [base[0] + side[0] * 4.5, base[1] + side[1] * 4.5],
      [base[0] - side[0] * 4.5, base[1] - side[1] * 4.5],
    ];
    out.push(
      element('polygon', {
        points: points.map((q) => q.map((c) => c.toFixed(1)).join(',')).join(' '),
        fill: MARK,
      }),
    );
  }
  return out;
}

function scaleBar(perMm: number, x: number, y: number): string {
  const mm = [50, 20, 10, 5, 2, 1].find((n) => n * perMm <= 60) ?? 1;
  const end = x + mm * perMm;
  return [
    line(x, y, end, y, '#000000', 2),
    line(x, y - 4, x, y + 4, '#000000', 2),
    line(end, y - 4, end, y + 4, '#000000', 2),
    label(`${mm} mm`, end + 6, y + 4, { size: 12 }),
  ].join('');
}
