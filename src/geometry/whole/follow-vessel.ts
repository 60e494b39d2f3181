import { add, distance, scale, type Vec3 } from '../../foundation/vector.js';
import { markFlatCaps } from '../caps.js';
import type { SurfaceDistances } from '../geodesic.js';
import { Polyline } from '../polyline.js';
import { extendAlong, refineCentreline, type SectionFilter } from '../refine-centreline.js';
import { type Ring, ringsAlongPath } from '../rough-path.js';
import type { Section } from '../section.js';
import { median } from '../statistics.js';
import type { Surface } from '../surface.js';
import { endAtCap, extendToEnd } from '../vessel-end.js';

/** Numerical settings for following one vessel of a fused surface. No clinical meaning. */
const FOLLOW = {
  ringStepMm: 0.5,
  /** A ring this many times the vessel's usual radius is a junction or the sac. */
  wideRing: 1.7,
  /** A ring wider than this leans towards a branch. */
  leaningRing: 1.25,
  /** Rings in a row that must agree within this ratio before the vessel's radius is known. */
  steadyRings: 6,
  steadyRatio: 1.25,
  /** A section whose calibre leaves this range of the vessel's median so far holds more than the vessel. */
  leastOfMedian: 0.55,
  mostOfMedian: 1.3,
  /** At the sac a section this many times the median of those within `flareLooksBack` calibres is part of the flare. */
  flare: 1.1,
  flareLooksBack: 2,
  /** Sections that the median so far looks back over. */
  memory: 60,
} as const;

/** A vessel's line from the cap of its far end to the last section that is vessel only. */
export interface FollowedLine {
  line: Polyline;
  calibreMm: number;
}

/**
 * Rings from the labelled end towards the sac, cut off where the longest run of wide rings begins: there the
 * sac begins. (A junction on the way makes a shorter run, and the last rings about the sources are small again.)
 */
export function vesselRings(surface: Surface, distances: SurfaceDistances, tip: number): Ring[] {
  const run = distances.distanceMm[tip];
  const rings = ringsAlongPath(surface, distances, tip, Math.min(FOLLOW.ringStepMm, run / 12));
  const usual = [steadyRadius(rings.map((r) => r.radiusMm))];
  let longest = { from: rings.length, length: 0 };
  let current = { from: 0, length: 0 };
  rings.forEach((ring, i) => {
    const here = median(usual.slice(-FOLLOW.memory));
    if (ring.radiusMm < FOLLOW.wideRing * here) {
      if (ring.radiusMm > here / FOLLOW.wideRing) usual.push(ring.radiusMm);
      current = { from: i + 1, length: 0 };
    } else {
      current.length++;
      if (current.length > longest.length) longest = { ...current };
    }
  });
  return rings.slice(0, Math.max(4, longest.from));
}

/**
 * Centres of the rings for a first line. Rings wider than the vessel's usual ones lie askew over a junction and
 * their centres lean towards the branch: they are left out, so that the line runs straight on across it.
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
 * Leaves out the centres within one calibre of the first, at most a quarter: sections there cut the end's cap, which
 * is not known yet, and would turn the line aside. It is followed to its end afterwards.
 */
function awayFromEnd(centres: readonly Vec3[], calibreMm: number): Vec3[] {
  const away = centres.findIndex((c) => distance(c, centres[0]) > calibreMm);
  const quarter = centres.length >> 2;
  return centres.slice(away < 0 ? quarter : Math.min(away, quarter));
}

/** Radius of the first few rings that agree: those before them run over the vessel's cap and are smaller. */
function steadyRadius(radii: readonly number[]): number {
  for (let i = 0; i + FOLLOW.steadyRings <= radii.length; i++) {
    const window = radii.slice(i, i + FOLLOW.steadyRings);
    if (Math.max(...window) <= FOLLOW.steadyRatio * Math.min(...window)) return median(window);
  }
  return median(radii.slice(0, Math.max(FOLLOW.steadyRings, Math.floor(radii.length / 3))));
}

/**
 * Centreline of one vessel of a fused surface, from the cap of its far end towards the sac, as far as its
 * sections hold this vessel alone; junctions on the way are bridged.
 */
export function followVessel(surface: Surface, rings: readonly Ring[]): FollowedLine | undefined {
  if (rings.length < 4) return undefined;
  const rough = 2 * median(rings.slice(0, Math.max(8, rings.length >> 1)).map((r) => r.radiusMm));
  const first = refineCentreline(surface, awayFromEnd(roughLine(rings), rough), rough, vesselOnly);
  if (!first) return undefined;
  const calibre = first.calibreMm;
  const window = 0.8 * calibre;
  const start = first.line.points[0];
  markFlatCaps(surface, (t) => surface.startsNear(t, start, 3 * calibre), start, calibre);
  const outward = scale(first.line.directionAt(0, window), -1);
  const behind = extendToEnd(surface, start, outward, calibre);
  const last = first.line.points[first.line.points.length - 1];
  const ahead = extendAlong(
    surface,
    last,
    first.line.directionAt(first.line.lengthMm, window),
    calibre,
    (s) => isLike(s.equivalentMm, calibre),
  );
  const whole = refineCentreline(
    surface,
    [...behind.reverse(), ...first.line.points, ...ahead],
    calibre,
    vesselOnly,
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

const isLike = (calibreMm: number, usualMm: number): boolean =>
  calibreMm >= FOLLOW.leastOfMedian * usualMm && calibreMm <= FOLLOW.mostOfMedian * usualMm;

/**
 * Keeps the sections whose calibre is like the median of those kept before them, from the far end on, up to where the
 * vessel flares into the sac: the middle of a flare leans to one side and would turn the line's end.
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
  while (kept.length > 4 && isFlare(kept)) {
    keeps[sections.indexOf(kept[kept.length - 1])] = false;
    kept.pop();
  }
  return keeps;
};

/** Whether the last section is wider than those within some calibres before it. */
function isFlare(sections: readonly Section[]): boolean {
  const last = sections[sections.length - 1];
  const reach = FOLLOW.flareLooksBack * last.equivalentMm;
  const near = sections.slice(0, -1).filter((s) => distance(s.centre, last.centre) < reach);
  return last.equivalentMm > FOLLOW.flare * median(near.map((s) => s.equivalentMm));
}

/** Prolongs the line straight into the sac, to the place beside the sac's middle, in small steps. */
export function prolongIntoSac({ line, calibreMm }: FollowedLine, sacMiddle: Vec3): Polyline {
  const end = line.points[line.points.length - 1];
  const direction = line.directionAt(line.lengthMm, 0.8 * calibreMm);
  const depth =
    (sacMiddle[0] - end[0]) * direction[0] +
    (sacMiddle[1] - end[1]) * direction[1] +
    (sacMiddle[2] - end[2]) * direction[2];
  const reach = Math.max(depth, calibreMm);
  const points: Vec3[] = [...line.points];
  const steps = Math.ceil(reach / 0.25);
  for (let i = 1; i <= steps; i++) points.push(add(end, scale(direction, (reach * i) / steps)));
  return new Polyline(points);
}
