import { add, distance, scale, type Vec3 } from '../foundation/vector.js';
import { localFit, Polyline } from './polyline.js';
import { cutsCap, type Section, sectionAt } from './section.js';
import { median, runningMedian } from './statistics.js';
import type { Surface } from './surface.js';

/** Sampling and smoothing of the refinement, in calibres of the vessel. Numerical settings, no clinical meaning. */
const SETTINGS = {
  iterations: 8,
  /** Sample spacing and its bounds in mm. */
  spacing: 0.2,
  spacingBoundsMm: [0.15, 0.8],
  /** Half width of the local quadratic fit. */
  window: 0.8,
  /** A section that differs in area from its neighbours by more than this factor contains more than the vessel. */
  areaJump: 1.5,
  /** A centre that would move farther than this is not the centre of this vessel. */
  largestShift: 0.75,
  settledMm: 0.002,
} as const;

/** A centreline and the median calibre of its sections. */
export interface Centreline {
  line: Polyline;
  calibreMm: number;
}

/** Whether each section of a line, in order, contains only this vessel. */
export type SectionFilter = (sections: readonly (Section | undefined)[]) => boolean[];

/**
 * Moves a rough line to the middle of the lumen: at each point the surface is cut perpendicular to the line and the point is moved to the
 * centroid of its section; sections that contain more than the vessel are left out, and a local quadratic joins the rest. Repeated until
 * the line converges. With `bridges`, a stretch longer than a calibre without sections of this vessel keeps its rough places, and no
 * place is moved out of the lumen: slower, for lines that would otherwise leave it. Returns undefined if fewer than four sections of the
 * vessel can be cut.
 */
export function refineCentreline(
  surface: Surface,
  rough: readonly Vec3[],
  roughCalibreMm: number,
  isVessel: SectionFilter = likeNeighbours,
  bridges = false,
): Centreline | undefined {
  let calibre = roughCalibreMm;
  let line = new Polyline(rough);
  for (let iteration = 0; iteration < SETTINGS.iterations; iteration++) {
    const [least, most] = SETTINGS.spacingBoundsMm;
    const spacing = Math.min(most, Math.max(least, calibre * SETTINGS.spacing));
    line = line.resampled(spacing);
    const window = Math.max(calibre * SETTINGS.window, 2.5 * spacing);
    const sections = line.points.map((point, i) => {
      const section = sectionAt(surface, point, localFit(line, line.at[i], window).direction);
      const holds =
        section &&
        !cutsCap(surface, section) &&
        distance(section.centre, point) <= SETTINGS.largestShift * calibre;
      return holds ? section : undefined;
    });
    const keeps = isVessel(sections);
    const kept = sections.flatMap((section, i) =>
      section && keeps[i] ? [{ section, was: line.points[i] }] : [],
    );
    if (kept.length < 4) return undefined;
    calibre = median(kept.map(({ section }) => section.equivalentMm));
    const isKept = sections.map((section, i) => section !== undefined && keeps[i]);
    const held = bridges ? heldPlaces(line, isKept, calibre) : isKept.map(() => false);
    const centres = new Polyline(
      line.points.flatMap((point, i) => (isKept[i] ? [sections[i]!.centre] : held[i] ? [point] : [])),
    );
    const fitAt = (at: number): Vec3 => localFit(centres, at, window).point;
    const shift = bridges
      ? Number.POSITIVE_INFINITY
      : Math.max(...kept.map(({ was }, i) => distance(was, fitAt(centres.at[i]))));
    const even = centres.resampled(spacing);
    line = new Polyline(
      even.points.map((point, i) => {
        const moved = fitAt(even.at[i]);
        return bridges && !surface.isInside(moved) ? point : moved;
      }),
    );
    if (shift < SETTINGS.settledMm) break;
  }
  return { line, calibreMm: calibre };
}

/** Places in stretches of more than a calibre without sections, half a calibre away from places that have one. */
function heldPlaces(line: Polyline, isKept: readonly boolean[], calibreMm: number): boolean[] {
  const held = isKept.map(() => false);
  for (let from = 0; from < isKept.length; from++) {
    if (isKept[from]) continue;
    let to = from;
    while (to < isKept.length && !isKept[to]) to++;
    const isInner = from > 0 && to < isKept.length;
    if (isInner && line.at[to] - line.at[from - 1] > calibreMm)
      for (let i = from; i < to; i++)
        held[i] = line.at[i] - line.at[from - 1] > calibreMm / 2 && line.at[to] - line.at[i] > calibreMm / 2;
    from = to;
  }
  return held;
}

/** Discards sections whose area deviates from the running median, because they include a branch or a neighbour. */
function likeNeighbours(sections: readonly (Section | undefined)[]): boolean[] {
  const present = sections.flatMap((s, i) => (s ? [i] : []));
  const medians = runningMedian(
    present.map((i) => sections[i]!.areaMm2),
    6,
  );
  const keeps = sections.map(() => false);
  present.forEach((i, k) => {
    const ratio = sections[i]!.areaMm2 / medians[k];
    keeps[i] = ratio <= SETTINGS.areaJump && ratio >= 1 / SETTINGS.areaJump;
  });
  return keeps;
}

/**
 * Follows the vessel beyond the end of its line by cutting ahead and centring, until the vessel ends or `mayStep` rejects the next
 * section.
 */
export function extendAlong(
  surface: Surface,
  from: Vec3,
  direction: Vec3,
  calibreMm: number,
  mayStep: (s: Section, ahead: Vec3) => boolean,
): Vec3[] {
  const points: Vec3[] = [];
  let at = from;
  let ahead = direction;
  let calibre = calibreMm;
  let step = calibreMm * SETTINGS.spacing;
  for (let guard = 0; guard < 2000 && step > calibreMm * 0.02; guard++) {
    const section = sectionAt(surface, add(at, scale(ahead, step)), ahead);
    const ratio = section ? section.areaMm2 / (calibre * calibre * Math.PI * 0.25) : 0;
    const fits =
      section !== undefined &&
      ratio < SETTINGS.areaJump &&
      ratio > 1 / SETTINGS.areaJump &&
      distance(section.centre, add(at, scale(ahead, step))) < 0.3 * calibre &&
      mayStep(section, ahead);
    if (!fits) {
      step /= 2;
      continue;
    }
    points.push(section.centre);
    const back = points.length >= 5 ? points[points.length - 5] : from;
    const run = distance(back, section.centre);
    ahead =
      run > 0.5 * calibre
        ? scale(
            [section.centre[0] - back[0], section.centre[1] - back[1], section.centre[2] - back[2]],
            1 / run,
          )
        : ahead;
    at = section.centre;
    calibre = section.equivalentMm;
  }
  return points;
}
