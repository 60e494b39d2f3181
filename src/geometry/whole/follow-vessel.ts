import { add, distance, dot, normalize, scale, subtract, type Vec3 } from '../../foundation/vector.js';
import { markFlatCaps } from '../caps.js';
import { Polyline } from '../polyline.js';
import { extendAlong, refineCentreline, type SectionFilter } from '../refine-centreline.js';
import type { Ring } from '../rough-path.js';
import type { Section } from '../section.js';
import { median } from '../statistics.js';
import type { Surface } from '../surface.js';
import { endAtCap, extendToEnd } from '../vessel-end.js';

/** Numerical settings for following one vessel of a fused surface. No clinical meaning. */
const FOLLOW = {
  /** A ring wider than this is tilted towards a branch. */
  leaningRing: 1.25,
  /** Number of consecutive rings that must agree within this ratio to give the vessel's radius. */
  steadyRings: 6,
  steadyRatio: 1.25,
  /** A section whose calibre is outside this range of the vessel's running median contains more than the vessel. */
  leastOfMedian: 0.55,
  mostOfMedian: 1.3,
  /** At the sac a section wider than this multiple of the median over `flareLooksBack` calibres belongs to the flare. */
  flare: 1.1,
  flareLooksBack: 2,
  /** A widening longer than this, in calibres, is not a flare but part of the vessel itself. */
  longestFlare: 1,
  /** A gap between sections of this many calibres is an opening; this many sections behind it suffice to detect a flare. */
  openingGap: 0.5,
  leastBehind: 4,
  /** Number of sections in the running median. */
  memory: 60,
  /** A section this many times as wide as the lumen is deep contains more than the vessel. */
  widerThanDeep: 1.5,
  /** A line reaches a place within this distance of it, in calibres, or of its straight extension up to this far ahead. */
  besidePlace: 0.5,
  aheadOfEnd: 2,
} as const;

/** A vessel's line from the cap of its far end to the last section of the vessel alone. */
export interface FollowedLine {
  line: Polyline;
  calibreMm: number;
}

/**
 * Centres of the rings for a first line. Rings wider than usual are tilted at a junction, with their centres towards the branch; they are
 * left out, so that the line continues straight across it.
 */
function roughLine(rings: readonly Ring[]): Vec3[] {
  const radii = rings.map((r) => r.radiusMm);
  const usual = steadyRadius(radii);
  const kept: Ring[] = [];
  const recent = [usual];
  for (const ring of rings) {
    const here = median(recent.slice(-FOLLOW.memory));
    if (ring.radiusMm > FOLLOW.leaningRing * here) continue;
    kept.push(ring);
    if (ring.radiusMm > here / FOLLOW.leaningRing) recent.push(ring.radiusMm);
  }
  return (kept.length >= 4 ? kept : rings).map((r) => r.centre);
}

/**
 * Leaves out the centres within one calibre of the first, at most a quarter: sections there cut the end's cap, whose triangles are not yet
 * known, and would deflect the line. The line is extended to the end afterwards.
 */
function awayFromEnd(centres: readonly Vec3[], calibreMm: number): Vec3[] {
  const away = centres.findIndex((c) => distance(c, centres[0]) > calibreMm);
  const quarter = centres.length >> 2;
  return centres.slice(away < 0 ? quarter : Math.min(away, quarter));
}

/** Radius of the first few rings that agree; those before them are on the vessel's cap and smaller. */
function steadyRadius(radii: readonly number[]): number {
  for (let i = 0; i + FOLLOW.steadyRings <= radii.length; i++) {
    const window = radii.slice(i, i + FOLLOW.steadyRings);
    if (Math.max(...window) <= FOLLOW.steadyRatio * Math.min(...window)) return median(window);
  }
  return median(radii.slice(0, Math.max(FOLLOW.steadyRings, Math.floor(radii.length / 3))));
}

/**
 * Centreline of one vessel of a fused surface, from the cap of its far end towards the sac, as far as its sections contain only this
 * vessel; junctions on the way are bridged.
 */
export function followVessel(
  surface: Surface,
  rings: readonly Ring[],
  lastNarrow?: Ring,
): FollowedLine | undefined {
  const holds = (found: FollowedLine | undefined): found is FollowedLine =>
    found !== undefined && staysInside(surface, found.line) && comesTo(found, lastNarrow);
  const plain = followPlainly(surface, rings, false);
  if (holds(plain)) return plain;
  const bridged = followPlainly(surface, rings, true);
  return holds(bridged) ? bridged : undefined;
}

/** Whether a line is in the lumen, except for its first point on the cap. */
function staysInside(surface: Surface, line: Polyline): boolean {
  return line.points.every((p, i) => i === 0 || surface.isInside(p));
}

/** Whether a line reaches a place near the sac: it passes it, or the place is straight ahead by no more than the length of a flare. */
function comesTo({ line, calibreMm }: FollowedLine, place: Ring | undefined): boolean {
  if (!place) return true;
  const usual = Math.max(calibreMm, 2 * place.radiusMm);
  const ahead = line.directionAt(line.lengthMm, 0.8 * calibreMm);
  const end = line.points[line.points.length - 1];
  const onwards = [...line.points, add(end, scale(ahead, FOLLOW.aheadOfEnd * usual))];
  return new Polyline(onwards).project(place.centre).distanceMm < FOLLOW.besidePlace * usual;
}

function followPlainly(surface: Surface, rings: readonly Ring[], bridges: boolean): FollowedLine | undefined {
  if (rings.length < 4) return undefined;
  const rough = 2 * median(rings.slice(0, Math.max(8, rings.length >> 1)).map((r) => r.radiusMm));
  const centres = bridges ? rings.map((r) => r.centre) : roughLine(rings);
  const filter = bridges ? asDeepAsWide(surface) : vesselOnly;
  const first = refineCentreline(surface, awayFromEnd(centres, rough), rough, filter, bridges);
  if (!first) return undefined;
  const calibre = first.calibreMm;
  const window = 0.8 * calibre;
  const start = first.line.points[0];
  markFlatCaps(surface, (t) => surface.startsNear(t, start, 3 * calibre), start, calibre);
  const outward = scale(first.line.directionAt(0, window), -1);
  const behind = pastOpenings(surface, extendToEnd(surface, start, outward, calibre), start, outward, rings);
  const last = first.line.points[first.line.points.length - 1];
  const ahead = extendAlong(
    surface,
    last,
    first.line.directionAt(first.line.lengthMm, window),
    calibre,
    (s) => isLike(s.equivalentMm, bridges ? 2 * rings[rings.length - 1].radiusMm : calibre),
  );
  const whole = refineCentreline(
    surface,
    [...behind.reverse(), ...first.line.points, ...ahead],
    calibre,
    filter,
    bridges,
  );
  if (!whole) return undefined;
  const cap = endAtCap(
    surface,
    whole.line.points[0],
    scale(whole.line.directionAt(0, window), -1),
    whole.calibreMm,
  );
  return { line: new Polyline([...(cap ? [cap] : []), ...whole.line.points]), calibreMm: whole.calibreMm };
}

/**
 * The places behind the start of a line, extended if an opening near the far end stopped them before the vessel's point: along the rough
 * path to that point, and from there to the end.
 */
function pastOpenings(
  surface: Surface,
  behind: Vec3[],
  start: Vec3,
  outward: Vec3,
  rings: readonly Ring[],
): Vec3[] {
  const last = behind.length > 0 ? behind[behind.length - 1] : start;
  const isBehind = (centre: Vec3): boolean => dot(subtract(centre, last), outward) > 0;
  const first = rings.findIndex((ring) => !isBehind(ring.centre));
  const missed = rings.slice(0, first);
  if (missed.length === 0 || distance(last, missed[0].centre) < missed[0].radiusMm) return behind;
  const point = missed[0].centre;
  const direction = normalize(subtract(point, rings[Math.min(first, rings.length - 1)].centre));
  const between = missed.slice(1).reverse();
  return [
    ...behind,
    ...between.map(({ centre }) => centre),
    point,
    ...extendToEnd(surface, point, direction, 2 * median(missed.map(({ radiusMm }) => radiusMm))),
  ];
}

const isLike = (calibreMm: number, usualMm: number): boolean =>
  calibreMm >= FOLLOW.leastOfMedian * usualMm && calibreMm <= FOLLOW.mostOfMedian * usualMm;

/**
 * Keeps the sections whose calibre is close to the running median of those kept, from the far end on, up to the flare into the sac, whose
 * centre is to one side and would deflect the line's end.
 */
export const vesselOnly: SectionFilter = (sections) => {
  const start = sections.flatMap((s) => (s ? [s.equivalentMm] : [])).slice(0, 12);
  const kept: Section[] = [];
  let usual = median(start);
  const keeps = sections.map((section) => {
    if (!section || !isLike(section.equivalentMm, usual)) return false;
    kept.push(section);
    if (kept.length >= 6) usual = median(kept.slice(-FOLLOW.memory).map((s) => s.equivalentMm));
    return true;
  });
  for (const section of flareOf(kept)) keeps[sections.indexOf(section)] = false;
  return keeps;
};

/**
 * Keeps the sections that are hardly wider than the lumen is deep at their centre, whatever the calibre before: for vessels whose calibre
 * changes along their course. A section across a junction is wider.
 */
const asDeepAsWide =
  (surface: Surface): SectionFilter =>
  (sections) => {
    const keeps = sections.map(
      (section) =>
        section !== undefined &&
        section.equivalentMm <= FOLLOW.widerThanDeep * 2 * (surface.closest(section.centre)?.distance ?? 0),
    );
    const kept = sections.filter((section, i): section is Section => section !== undefined && keeps[i]);
    for (const section of flareOf(kept)) keeps[sections.indexOf(section)] = false;
    return keeps;
  };

/** The sections at the end of a vessel that belong to its flare into the sac; at least four others are kept. */
function flareOf(kept: readonly Section[]): Section[] {
  const last = kept[kept.length - 1];
  let from = kept.length;
  while (from > 4 && isFlare(kept.slice(0, from))) {
    from--;
    if (distance(kept[from].centre, last.centre) > FOLLOW.longestFlare * kept[from].equivalentMm) return [];
  }
  return kept.slice(from);
}

/**
 * Whether the last section is wider than those within some calibres before it. Those before an opening do not count, since a vessel may be
 * wider after it, unless too few follow it.
 */
function isFlare(sections: readonly Section[]): boolean {
  const last = sections[sections.length - 1];
  const reach = FOLLOW.flareLooksBack * last.equivalentMm;
  const near = sections.slice(0, -1).filter((s) => distance(s.centre, last.centre) < reach);
  const gap = near.findLastIndex(
    (s, i) => i > 0 && distance(s.centre, near[i - 1].centre) > FOLLOW.openingGap * last.equivalentMm,
  );
  const behind = gap > 0 && near.length - gap >= FOLLOW.leastBehind ? near.slice(gap) : near;
  return last.equivalentMm > FOLLOW.flare * median(behind.map((s) => s.equivalentMm));
}

/**
 * Extends the line straight into the sac, to the place next to the sac's centre, in small steps, or up to where the straight line leaves
 * the lumen.
 */
export function prolongIntoSac(
  surface: Surface,
  { line, calibreMm }: FollowedLine,
  sacMiddle: Vec3,
): Polyline {
  const end = line.points[line.points.length - 1];
  const direction = line.directionAt(line.lengthMm, 0.8 * calibreMm);
  const depth =
    (sacMiddle[0] - end[0]) * direction[0] +
    (sacMiddle[1] - end[1]) * direction[1] +
    (sacMiddle[2] - end[2]) * direction[2];
  const wanted = Math.max(depth, calibreMm);
  const reach = Math.min(
    wanted,
    (surface.raycast(end, direction, wanted)?.distance ?? wanted) * SHORT_OF_WALL,
  );
  const points: Vec3[] = [...line.points];
  const steps = Math.ceil(reach / 0.25);
  for (let i = 1; i <= steps; i++) points.push(add(end, scale(direction, (reach * i) / steps)));
  return new Polyline(points);
}

/** An extended line stops at this fraction of the distance to the wall. */
const SHORT_OF_WALL = 0.999;
