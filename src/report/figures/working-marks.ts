/** Landing zone and device drawn over a picture of the vessel. */
import { fixed } from '../../foundation/number-text.js';
import type { Device, Vessel } from '../../result/result.generated.js';
import { deviceKind, trimmed } from '../words.js';
import { COLOURS } from './palette.js';
import { element, line } from './svg.js';

type Landing = NonNullable<Vessel['landing']>;

/** Pixels of the figure. */
export interface Point {
  x: number;
  y: number;
}

/** Points of the picture along a stretch of the vessel, including both ends. */
export function stretch(at: (alongMm: number) => Point, fromMm: number, toMm: number, pieces = 24): Point[] {
  return Array.from({ length: pieces + 1 }, (_, i) => at(fromMm + ((toMm - fromMm) * i) / pieces));
}

/** The unit vector perpendicular to a polyline at one of its points. */
function squareTo(points: readonly Point[], i: number): Point {
  const [p, q] = [points[Math.max(0, i - 1)]!, points[Math.min(points.length - 1, i + 1)]!];
  const long = Math.hypot(q.x - p.x, q.y - p.y) || 1;
  return { x: -(q.y - p.y) / long, y: (q.x - p.x) / long };
}

/** The course of the zone as a dashed line, its ends as bars across the vessel. */
export function zoneSvg(zone: readonly Point[], half: number): string {
  const course = zone.map(({ x, y }) => `${fixed(x, 2)},${fixed(y, 2)}`).join(' ');
  const bar = (i: number): string => {
    const [p, n] = [zone[i]!, squareTo(zone, i)];
    const ends = [p.x - half * n.x, p.y - half * n.y, p.x + half * n.x, p.y + half * n.y] as const;
    return line(...ends, '#ffffff', 5) + line(...ends, COLOURS.black, 2.4);
  };
  return [
    element('polyline', { points: course, fill: 'none', stroke: '#ffffff', 'stroke-width': 4 }),
    element('polyline', {
      points: course,
      fill: 'none',
      stroke: COLOURS.black,
      'stroke-width': 1.6,
      'stroke-dasharray': '7 4',
    }),
    bar(0),
    bar(zone.length - 1),
  ].join('');
}

/**
 * The device at its nominal size, its near end at the sac-side end of the zone: a plug of known length
 * along the vessel, anything else as a circle of its diameter. Undefined without a diameter.
 */
export function deviceOutline(
  device: Device,
  landing: Landing,
  at: (alongMm: number) => Point,
  perMm: number,
): { points: Point[]; mark: Point; text: string } | undefined {
  const { diameter_mm: diameter, length_mm: lengthMm } = device;
  if (diameter === undefined) return undefined;
  const kind = device.kind ? deviceKind(device.kind) : 'device';
  const half = (diameter * perMm) / 2;
  if (!device.kind?.endsWith('plug') || lengthMm === undefined) {
    const centre = at(landing.to_mm - diameter / 2);
    const points = Array.from({ length: 48 }, (_, i) => {
      const angle = (2 * Math.PI * i) / 48;
      return { x: centre.x + half * Math.cos(angle), y: centre.y + half * Math.sin(angle) };
    });
    return { points, mark: points[42]!, text: `${kind}, ${trimmed(diameter)} mm` };
  }
  const course = stretch(at, Math.max(0, landing.to_mm - lengthMm), landing.to_mm);
  const rim = (sign: number): Point[] =>
    course.map((p, i) => {
      const n = squareTo(course, i);
      return { x: p.x + sign * half * n.x, y: p.y + sign * half * n.y };
    });
  const [one, other] = [rim(1), rim(-1)];
  return {
    points: [...one, ...other.reverse()],
    mark: one[Math.floor(one.length / 2)]!,
    text: `${kind}, ${trimmed(diameter)} x ${trimmed(lengthMm)} mm`,
  };
}

/** The corners of a box. */
export const boxPoints = (x: number, y: number, w: number, h: number): Point[] => [
  { x, y },
  { x: x + w, y },
  { x: x + w, y: y + h },
  { x, y: y + h },
];

/** A dotted outline with a white rim. */
export function outlineSvg(points: readonly Point[]): string {
  const course = points.map(({ x, y }) => `${fixed(x, 2)},${fixed(y, 2)}`).join(' ');
  return (
    element('polygon', {
      points: course,
      fill: '#ffffff',
      'fill-opacity': 0.25,
      stroke: '#ffffff',
      'stroke-width': 4.5,
    }) +
    element('polygon', {
      points: course,
      fill: 'none',
      stroke: COLOURS.black,
      'stroke-width': 2.2,
      'stroke-dasharray': '2 3',
    })
  );
}
