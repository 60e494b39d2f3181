import type { Manifold } from 'manifold-3d/manifold';
import {
  add,
  cross,
  dot,
  normalize,
  perpendicular,
  scale,
  subtract,
  type Vec3,
} from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { findSelfIntersections } from '../mesh/self-intersection.js';
import { in32Bits, type Workshop } from './workshop.js';

/** A stretch of a vessel that the process cannot print at true size. */
export interface ThinStretch {
  /** mm of the true vessel, from its far end. */
  fromMm: number;
  toMm: number;
  /** Thinnest and largest width there, mm of the true vessel. */
  narrowestMm: number;
  widestMm: number;
}

/** Two thin stretches closer than this, in pin diameters, are thickened as one. */
const JOIN_PINS = 1;

/** Stretches whose smallest width, at print scale and including the wall on both sides, is below `pinMm`. */
export function thinStretches(vessel: VesselMeasure, wallMm: number, pinMm: number): ThinStretch[] {
  const stretches: ThinStretch[] = [];
  const { profile } = vessel;
  profile.forEach((sample, i) => {
    if (sample.atOpening || sample.minMm + 2 * wallMm >= pinMm) return;
    const fromMm = i === 0 ? 0 : (profile[i - 1].atMm + sample.atMm) / 2;
    const isLast = i === profile.length - 1;
    const toMm = isLast ? Math.max(sample.atMm, vessel.lengthMm) : (sample.atMm + profile[i + 1].atMm) / 2;
    const open = stretches.at(-1);
    if (!open || fromMm - open.toMm > JOIN_PINS * pinMm) {
      stretches.push({ fromMm, toMm, narrowestMm: sample.minMm, widestMm: sample.maxMm });
      return;
    }
    open.toMm = toMm;
    open.narrowestMm = Math.min(open.narrowestMm, sample.minMm);
  });
  for (const s of stretches)
    s.widestMm = Math.max(
      ...profile.filter((p) => p.atMm >= s.fromMm && p.atMm <= s.toMm).map((p) => p.maxMm),
    );
  return stretches;
}

/** Least gap between a vessel's wall and its sleeve, mm: surfaces that almost coincide cut each other into fragments. */
const CLEAR_MM = 0.08;

/** Diameter of the sleeve around a stretch: the pin, or a little more than the vessel's largest width there. */
export const sleeveDiameterMm = (stretch: ThinStretch, wallMm: number, pinMm: number): number =>
  Math.max(pinMm, stretch.widestMm + 2 * wallMm + 2 * CLEAR_MM);

const CORNERS = 24;
/** Factor by which the sleeve's facets are outside its nominal radius, so that rays measure the full pin. */
const ROOM = 1.01;
/** Distance of a sleeve from its vessel's ends, mm. */
const END_MM = 0.05;

/**
 * Round body of diameter `diameterMm` along a stretch of a vessel's centreline, print coordinates; its ends are flat, so that the vessel
 * does not get longer. Swept as one surface, or joined from straight pieces if the sweep would fold at a sharp bend.
 */
export function sleeve(
  workshop: Workshop,
  centreline: readonly Vec3[],
  stretch: { fromMm: number; toMm: number },
  diameterMm: number,
): Manifold | undefined {
  const line = new Polyline(centreline as Vec3[]);
  // Neither in the plane of the vessel's end nor beyond it.
  const from = Math.max(END_MM, stretch.fromMm);
  const to = Math.min(line.lengthMm - END_MM, stretch.toMm);
  if (!(to - from > 1e-3)) return undefined;
  const radius = (ROOM * diameterMm) / 2 / Math.cos(Math.PI / CORNERS);
  const mesh = sweep(line, from, to, radius);
  if (findSelfIntersections(mesh, { most: 1 }).count === 0) return workshop.solid(mesh);
  return joinedPieces(workshop, line, from, to, radius);
}

function sweep(line: Polyline, from: number, to: number, radius: number): TriangleMesh {
  const steps = Math.max(1, Math.ceil((to - from) / Math.max(0.5, radius / 2)));
  const positions: number[] = [];
  const triangles: number[] = [];
  const window = Math.max(0.5, radius);
  let side = perpendicular(line.directionAt(from, window));
  for (let i = 0; i <= steps; i++) {
    const at = from + ((to - from) * i) / steps;
    const centre = line.pointAt(at);
    const along = line.directionAt(at, window);
    // The ring keeps its rotation: the last ring's side vector projected onto this ring's plane.
    side = normalize(subtract(side, scale(along, dot(side, along))));
    const other = cross(along, side);
    for (let k = 0; k < CORNERS; k++) {
      const angle = (2 * Math.PI * k) / CORNERS;
      const out = add(scale(side, radius * Math.cos(angle)), scale(other, radius * Math.sin(angle)));
      positions.push(...add(centre, out));
    }
    if (i === 0) continue;
    const [low, high] = [CORNERS * (i - 1), CORNERS * i];
    for (let k = 0; k < CORNERS; k++) {
      const next = (k + 1) % CORNERS;
      triangles.push(low + k, low + next, high + next, low + k, high + next, high + k);
    }
  }
  const first = positions.length / 3;
  positions.push(...line.pointAt(from), ...line.pointAt(to));
  for (let k = 0; k < CORNERS; k++) {
    const next = (k + 1) % CORNERS;
    triangles.push(first, next, k, first + 1, CORNERS * steps + k, CORNERS * steps + next);
  }
  return { positions: in32Bits(positions), triangles: Uint32Array.from(triangles) };
}

function joinedPieces(
  workshop: Workshop,
  line: Polyline,
  from: number,
  to: number,
  radius: number,
): Manifold {
  const steps = Math.max(1, Math.ceil((to - from) / Math.max(0.5, (2 * radius) / 3)));
  const balls = Array.from({ length: steps + 1 }, (_, i) =>
    workshop.sphere(line.pointAt(from + ((to - from) * i) / steps), radius, CORNERS),
  );
  const links: Manifold[] = [];
  for (let i = 0; i < steps; i++) links.push(workshop.hull([balls[i], balls[i + 1]]));
  if (from <= END_MM) {
    const normal = line.directionAt(0, radius);
    const offset = dot(line.pointAt(from), normal);
    const near = Math.min(links.length, Math.ceil((2 * radius * steps) / (to - from)) + 1);
    for (let i = 0; i < near; i++) links[i] = workshop.keep(links[i].trimByPlane(normal, offset));
  }
  return workshop.union(links.filter((link) => !link.isEmpty()));
}
