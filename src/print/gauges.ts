import {
  add,
  cross,
  distance,
  dot,
  normalize,
  onSpiral,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { LesionMeasure, VesselMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import { sectionAt } from '../geometry/section.js';
import { Surface } from '../geometry/surface.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { deviceChangeMm, diameterTolerance, spanTolerance, type ToleranceBasis } from './tolerance.js';

/** One check point, print coordinates, mm. */
export interface Gauge {
  name: string;
  kind: 'diameter' | 'width' | 'span' | 'tag';
  /** What is measured and how the caliper is held. */
  what: string;
  /** A diameter: the middle of the vessel; else where one jaw touches. */
  point: Vec3;
  /** Where the other jaw touches; absent for a diameter. */
  to?: Vec3;
  /** A diameter: the vessel, how far from its far end, its own mean width there without wall, and its direction. */
  vessel?: string;
  atMm?: number;
  vesselMm?: number;
  along?: Vec3;
  expectedMm: number;
  toleranceMm: number;
  toleranceSource: string;
  /** Of a feeder: deviation from which another device would be chosen; absent without a shelf. */
  deviceChangeMm?: number;
  /** True where the print is thicker there than the vessel. */
  notToSize: boolean;
}

export interface GaugeInput {
  /** Outer side of the printed model without its tag. */
  outside: TriangleMesh;
  /** With its tag: what a jaw can run into. */
  printed: TriangleMesh;
  /** In print coordinates and at print scale. */
  lesion: LesionMeasure;
  sac?: TriangleMesh;
  wallMm: number;
  /** Stretches of vessels that were thickened, mm of the print from the far end. */
  thickened: ReadonlyMap<string, readonly { fromMm: number; toMm: number }[]>;
  /** Middle, reader's right and up, width and height of the tag. */
  tag?: { centre: Vec3; right: Vec3; up: Vec3; widthMm: number; heightMm: number };
  tolerances: ToleranceBasis;
}

/** Room a caliper's jaw needs beside the print, mm. Common practice, no source. */
const JAW_MM = 4;
/** Half the width of a flat jaw's contact, mm. Common practice, no source. */
const JAW_REACH_MM = 6;
/** Longest span a pocket caliper takes, mm. Common practice, no source. */
const LONGEST_MM = 150;
const MOST_SPANS = 6;
const MOST_GAUGES = 30;
/** Two check points on one vessel stand at least so far apart, mm. */
const APART_MM = 4;
/** Sections of a profile lie at most so far apart, mm: a check point moves to the nearest. */
const SAMPLE_MM = 1;
const MOST_DIAMETERS = 3;
/** Largest over smallest width of a printed section, over the same of the vessel there, above which another body touches it. */
const TOUCHING = 1.1;

type Draft = Omit<Gauge, 'name' | 'toleranceMm' | 'toleranceSource'>;

/**
 * Points of the outside of a print that a person can reach with a caliper: diameters of the vessels, widths of the sac, spans
 * between far ends, and the tag, whose size is known exactly. Expected values are taken from the printed surface itself.
 */
export function placeGauges(input: GaugeInput): Gauge[] {
  const origin: Vec3 = [0, 0, 0];
  const outside = new Surface(input.outside, origin);
  const printed = new Surface(input.printed, origin);
  const sizes = input.lesion.vessels.flatMap((v) => diameters(v, input, outside, printed));
  const widths = sacWidths(input, outside, printed);
  const tag = tagSizes(input);
  // Spans decide least: they give way.
  const room = Math.max(0, MOST_GAUGES - sizes.length - widths.length - tag.length);
  const drafts = [...sizes, ...widths, ...spans(input, outside, printed).slice(0, room), ...tag].slice(
    0,
    MOST_GAUGES,
  );
  return drafts.map((draft, i) => {
    const lumenMm = draft.expectedMm - 2 * input.wallMm;
    const { toleranceMm, source } =
      draft.kind === 'diameter'
        ? diameterTolerance(input.tolerances, lumenMm)
        : spanTolerance(input.tolerances, draft.expectedMm);
    const isFeeder = input.lesion.vessels.some(
      (v) => v.name === draft.vessel && v.role.endsWith('feeder') && v.landing,
    );
    const change = isFeeder ? deviceChangeMm(input.tolerances, lumenMm)?.changeMm : undefined;
    return {
      name: `G${i + 1}`,
      ...draft,
      toleranceMm,
      toleranceSource: source,
      ...(change !== undefined && { deviceChangeMm: change }),
    };
  });
}

function diameters(vessel: VesselMeasure, input: GaugeInput, outside: Surface, printed: Surface): Draft[] {
  if (vessel.centrelineMm.length < 2) return [];
  const line = new Polyline(vessel.centrelineMm);
  const calibre = vessel.calibreMm.mean;
  const first = vessel.profile[0]?.atMm ?? 0;
  const away = Math.max(2, 0.75 * calibre);
  const wanted = landingPlaces(vessel, first);
  const most = wanted.length > 1 ? wanted.length + 1 : MOST_DIAMETERS;
  wanted.push([first + away, 'near its far end']);
  wanted.push([
    vessel.lengthMm - Math.max(2, 1.2 * calibre),
    vessel.role === 'branch' ? 'before it joins its parent' : 'just before its neck',
  ]);
  wanted.push([vessel.lengthMm / 2, 'half way along']);
  const taken: number[] = [];
  const out: Draft[] = [];
  for (const [wish, words] of wanted) {
    if (wish < first + 1 || wish > vessel.lengthMm - 1 || out.length === most) continue;
    const sample = vessel.profile.reduce((a, b) =>
      Math.abs(b.atMm - wish) < Math.abs(a.atMm - wish) ? b : a,
    );
    const atMm = sample.atMm;
    if (sample.atOpening || taken.some((t) => Math.abs(t - atMm) < APART_MM - SAMPLE_MM)) continue;
    if (vessel.branches.some((b) => atMm > b.fromMm - 2 && atMm < b.toMm + 2)) continue;
    const point = line.pointAt(atMm);
    const along = line.directionAt(atMm, Math.max(1, calibre / 2));
    const section = sectionAt(outside, point, along);
    if (!section || !jawsReach(printed, point, along)) continue;
    const expectedMm = (section.minMm + section.maxMm) / 2;
    const isThick = isThickened(input, vessel.name, atMm);
    // Another vessel touches here: the outline runs about both, and is no longer as round as the vessel.
    const roundness = (sample.maxMm + 2 * input.wallMm) / (sample.minMm + 2 * input.wallMm);
    if (!isThick && section.maxMm > TOUCHING * roundness * section.minMm + 0.1) continue;
    // An outline that is no ring about this vessel, as where the plane runs into the sac.
    if (expectedMm > 1.6 * (sample.maxMm + 2 * input.wallMm) && !isThick) continue;
    taken.push(atMm);
    out.push({
      kind: 'diameter',
      what: `${input.wallMm > 0 ? 'Outer diameter' : 'Diameter'} of ${vessel.name} ${words}, ${atMm.toFixed(1)} mm from its far end: turn the caliper about the vessel and write the mean of the smallest and the largest reading.`,
      point: section.centre,
      vessel: vessel.name,
      atMm,
      vesselMm: (sample.minMm + sample.maxMm) / 2,
      along,
      expectedMm,
      notToSize: isThick,
    });
  }
  return out;
}

/** Places along a landing zone, the middle first: three where it is long enough, else two or one. */
function landingPlaces(vessel: VesselMeasure, first: number): [number, string][] {
  const { landing } = vessel;
  if (!landing) return [];
  const past = vessel.branches.filter((b) => b.toMm <= landing.toMm).map((b) => b.toMm + 2.5);
  const from = Math.max(landing.fromMm + 0.5, first + 1.5, ...past);
  const to = Math.min(landing.toMm - 0.5, vessel.lengthMm - 1.5);
  const middle: [number, string] = [
    to > from ? (from + to) / 2 : (landing.fromMm + landing.toMm) / 2,
    'in the middle of its landing zone',
  ];
  const ends: [number, string][] = [
    [from, 'at the far end of its landing zone'],
    [to, 'at the sac end of its landing zone'],
  ];
  if (to - from >= 2 * APART_MM - 1) return [middle, ...ends];
  return to - from >= APART_MM ? ends : [middle];
}

const isThickened = (input: GaugeInput, name: string, atMm: number): boolean =>
  (input.thickened.get(name) ?? []).some((s) => atMm >= s.fromMm - 1 && atMm <= s.toMm + 1);

/** Whether jaws find room on both sides of a vessel in at least two of twelve directions. */
function jawsReach(printed: Surface, point: Vec3, along: Vec3): boolean {
  const u = perpendicular(along);
  const v = cross(along, u);
  let free = 0;
  for (let i = 0; i < 12; i++) {
    const angle = (Math.PI * i) / 12;
    const side = add(scale(u, Math.cos(angle)), scale(v, Math.sin(angle)));
    if ([side, scale(side, -1)].every((d) => isFreeBeyondWall(printed, point, d))) free++;
  }
  return free >= 2;
}

/** From inside: out through the last wall of this vessel, then nothing for a jaw's thickness. */
function isFreeBeyondWall(printed: Surface, from: Vec3, direction: Vec3): boolean {
  let at = from;
  for (let walls = 0; walls < 3; walls++) {
    const hit = printed.raycast(at, direction);
    if (!hit) return walls > 0;
    const leaves = dot(printed.normal(hit.triangle), direction) > 0;
    const beyond = add(hit.point, scale(direction, 1e-3));
    if (leaves) {
      const next = printed.raycast(beyond, direction, JAW_MM);
      if (!next) return true;
    }
    at = beyond;
  }
  return false;
}

/** Both jaws lie flat and touch only where they should. */
function jawIsFree(printed: Surface, contact: Vec3, outwards: Vec3): boolean {
  const start = add(contact, scale(outwards, 0.05));
  if (printed.raycast(start, outwards, 4 * JAW_MM)) return false;
  const { positions } = printed;
  const [px, py, pz] = contact;
  const [ox, oy, oz] = outwards;
  for (let p = 0; p < positions.length; p += 3) {
    const x = positions[p] - px;
    const y = positions[p + 1] - py;
    const z = positions[p + 2] - pz;
    const height = x * ox + y * oy + z * oz;
    if (height < 0.3) continue;
    if (x * x + y * y + z * z - height * height < JAW_REACH_MM * JAW_REACH_MM) return false;
  }
  return true;
}

const DIRECTIONS = 180;

/** Directions spread evenly over half a sphere (Fibonacci spiral). */
function halfSphere(): Vec3[] {
  return Array.from({ length: DIRECTIONS }, (_, i) => onSpiral(i, 1 - (i + 0.5) / DIRECTIONS));
}

interface Width {
  direction: Vec3;
  low: Vec3;
  high: Vec3;
  widthMm: number;
}

function sacWidths(input: GaugeInput, outside: Surface, printed: Surface): Draft[] {
  const { sac, wallMm } = input;
  if (!sac) return [];
  const found: Width[] = [];
  const ends = input.lesion.sac?.longestEndsMm;
  const longest = ends && normalize(subtract(ends[1], ends[0]));
  for (const direction of [...(longest ? [longest] : []), ...halfSphere()]) {
    const width = widthAlong(sac, direction);
    if (wallMm > 0) overWalls(width, input.outside, wallMm);
    const onOutside = [width.low, width.high].every((p) => (outside.closest(p)?.distance ?? 1) < 0.15);
    if (!onOutside || width.widthMm > LONGEST_MM) continue;
    if (!jawIsFree(printed, width.high, direction) || !jawIsFree(printed, width.low, scale(direction, -1)))
      continue;
    found.push(width);
  }
  if (found.length === 0) return [];
  const widest = found.reduce((a, b) => (b.widthMm > a.widthMm ? b : a));
  const narrowest = found.reduce((a, b) => (b.widthMm < a.widthMm ? b : a));
  const across = (w: Width): number =>
    Math.max(Math.abs(dot(w.direction, widest.direction)), Math.abs(dot(w.direction, narrowest.direction)));
  const third = found.reduce((a, b) => (across(b) < across(a) ? b : a));
  const isTrueLongest = found[0].direction === longest && widest === found[0];
  const rows: [Width, string][] = [
    [widest, isTrueLongest ? 'Longest width of the sac' : 'Longest width of the sac that a caliper reaches'],
    [narrowest, 'Shortest width of the sac that a caliper reaches'],
    [third, 'Width of the sac across the other two'],
  ];
  const used: Width[] = [];
  return rows.flatMap(([w, words]): Draft[] => {
    if (used.some((u) => Math.abs(dot(u.direction, w.direction)) > 0.94)) return [];
    used.push(w);
    return [
      {
        kind: 'width',
        what: `${words}${wallMm > 0 ? ', over its walls' : ''}: jaws flat on both sides.`,
        point: w.low,
        to: w.high,
        expectedMm: w.widthMm,
        notToSize: false,
      },
    ];
  });
}

/** Facets of an outer wall lie at most this far from its nominal place, mm. */
const WALL_FACET_MM = 0.3;

/** Moves the ends of a width of a lumen to the outside of the wall about it, as the print has it. */
function overWalls(width: Width, { positions }: TriangleMesh, wallMm: number): void {
  const { direction } = width;
  const out = (from: Vec3, sign: 1 | -1): Vec3 => {
    let farthestMm = wallMm - WALL_FACET_MM;
    for (let p = 0; p < positions.length; p += 3) {
      const [x, y, z] = [positions[p] - from[0], positions[p + 1] - from[1], positions[p + 2] - from[2]];
      const height = sign * (x * direction[0] + y * direction[1] + z * direction[2]);
      if (height <= farthestMm || height > wallMm + WALL_FACET_MM) continue;
      if (x * x + y * y + z * z - height * height < JAW_REACH_MM * JAW_REACH_MM) farthestMm = height;
    }
    return add(from, scale(direction, sign * farthestMm));
  };
  width.low = out(width.low, -1);
  width.high = out(width.high, 1);
  width.widthMm = dot(subtract(width.high, width.low), direction);
}

function widthAlong({ positions }: TriangleMesh, direction: Vec3): Width {
  let [low, high, min, max] = [0, 0, Infinity, -Infinity];
  for (let p = 0; p < positions.length; p += 3) {
    const d = positions[p] * direction[0] + positions[p + 1] * direction[1] + positions[p + 2] * direction[2];
    if (d < min) [min, low] = [d, p];
    if (d > max) [max, high] = [d, p];
  }
  const at = (p: number): Vec3 => [positions[p], positions[p + 1], positions[p + 2]];
  return { direction, low: at(low), high: at(high), widthMm: max - min };
}

/** Rim of a vessel's far end on the print: its vertices near the end of the centreline. */
function rimOf(vessel: VesselMeasure, outside: TriangleMesh, wallMm: number): Vec3[] {
  const [tip] = vessel.centrelineMm;
  const calibre = vessel.profile[0]?.maxMm ?? vessel.calibreMm.mean;
  const reach = 0.75 * calibre + wallMm + (vessel.profile[0]?.atMm ?? 0) + 0.5;
  const rim: Vec3[] = [];
  for (let p = 0; p < outside.positions.length; p += 3) {
    const at: Vec3 = [outside.positions[p], outside.positions[p + 1], outside.positions[p + 2]];
    if (distance(at, tip) <= reach) rim.push(at);
  }
  return rim;
}

function spans(input: GaugeInput, outside: Surface, printed: Surface): Draft[] {
  const vessels = input.lesion.vessels.filter((v) => v.centrelineMm.length > 1);
  const rims = vessels.map((v) => rimOf(v, input.outside, input.wallMm));
  const found: Draft[] = [];
  const reachable = (a: Vec3, b: Vec3): boolean => {
    const u = normalize(subtract(b, a));
    return (
      !printed.raycast(add(b, scale(u, 0.05)), u, JAW_MM) &&
      !printed.raycast(add(a, scale(u, -0.05)), scale(u, -1), JAW_MM)
    );
  };
  const add2 = (from: Vec3[], to: Vec3[], what: string): void => {
    const pair = farthestPair(from, to);
    if (!pair) return;
    const expectedMm = distance(...pair);
    if (expectedMm > LONGEST_MM || expectedMm < 10 || !reachable(...pair)) return;
    found.push({
      kind: 'span',
      what: `${what}: the largest reading.`,
      point: pair[0],
      to: pair[1],
      expectedMm,
      notToSize: false,
    });
  };
  for (let i = 0; i < vessels.length; i++)
    for (let j = i + 1; j < vessels.length; j++)
      add2(
        rims[i],
        rims[j],
        `Span from the rim of ${vessels[i].name}'s far end to the rim of ${vessels[j].name}'s far end`,
      );
  found.sort((a, b) => b.expectedMm - a.expectedMm);
  const pairs = found.splice(0, found.length).slice(0, MOST_SPANS);
  if (input.sac) {
    const onOutside = verticesOnOutside(input.sac, outside, input.wallMm);
    vessels.forEach((v, i) => {
      if (v.role !== 'branch')
        add2(rims[i], onOutside, `Span from the rim of ${v.name}'s far end to the farthest point of the sac`);
    });
  }
  found.sort((a, b) => b.expectedMm - a.expectedMm);
  return [...pairs, ...found.slice(0, 2)];
}

/** Points of the print's outside over the sac; with a wall, the outer side above each point of the sac. */
function verticesOnOutside(sac: TriangleMesh, outside: Surface, wallMm: number): Vec3[] {
  const points: Vec3[] = [];
  for (let p = 0; p < sac.positions.length; p += 3) {
    const hit = outside.closest(
      [sac.positions[p], sac.positions[p + 1], sac.positions[p + 2]],
      wallMm + 0.15,
    );
    if (hit) points.push(hit.point);
  }
  return points;
}

function farthestPair(from: readonly Vec3[], to: readonly Vec3[]): [Vec3, Vec3] | undefined {
  let best: [Vec3, Vec3] | undefined;
  let most = -1;
  const some = (points: readonly Vec3[]): Vec3[] =>
    points.filter((_, i) => i % Math.max(1, Math.ceil(points.length / 2000)) === 0);
  const targets = some(to);
  for (const a of some(from))
    for (const b of targets) {
      const d = (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2;
      if (d > most) {
        most = d;
        best = [a, b];
      }
    }
  return best;
}

function tagSizes({ tag }: GaugeInput): Draft[] {
  if (!tag) return [];
  const row = (axis: Vec3, size: number, words: string): Draft => ({
    kind: 'tag',
    what: `${words} of the tag's plate: a known size that shows the printer's own error.`,
    point: add(tag.centre, scale(axis, -size / 2)),
    to: add(tag.centre, scale(axis, size / 2)),
    expectedMm: size,
    notToSize: false,
  });
  return [row(tag.right, tag.widthMm, 'Width'), row(tag.up, tag.heightMm, 'Height')];
}
