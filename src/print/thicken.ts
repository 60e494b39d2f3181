import type { Manifold } from 'manifold-3d/manifold';
import { dot, type Vec3 } from '../foundation/vector.js';
import type { VesselMeasure } from '../geometry/measure.js';
import { Polyline } from '../geometry/polyline.js';
import type { Workshop } from './workshop.js';

/** A stretch of a vessel that the process cannot print at its true size. */
export interface ThinStretch {
  /** mm of the true vessel, from its far end. */
  fromMm: number;
  toMm: number;
  /** Thinnest width there, mm of the true vessel. */
  narrowestMm: number;
}

/** Stretches whose smallest width, at print scale and with a wall on both sides, is below `pinMm`. */
export function thinStretches(
  vessel: VesselMeasure,
  scale: number,
  wallMm: number,
  pinMm: number,
): ThinStretch[] {
  const stretches: ThinStretch[] = [];
  let open: ThinStretch | undefined;
  vessel.profile.forEach((sample, i) => {
    const isThin = !sample.atOpening && sample.minMm * scale + 2 * wallMm < pinMm;
    if (!isThin) {
      open = undefined;
      return;
    }
    const fromMm = i === 0 ? 0 : (vessel.profile[i - 1].atMm + sample.atMm) / 2;
    const last = i === vessel.profile.length - 1;
    const toMm = last
      ? Math.max(sample.atMm, vessel.lengthMm)
      : (sample.atMm + vessel.profile[i + 1].atMm) / 2;
    if (open) {
      open.toMm = toMm;
      open.narrowestMm = Math.min(open.narrowestMm, sample.minMm);
    } else {
      open = { fromMm, toMm, narrowestMm: sample.minMm };
      stretches.push(open);
    }
  });
  return stretches;
}

const CORNERS = 24;

/**
 * Round body of diameter `diameterMm` along a stretch of a vessel's centreline, print coordinates; a stretch that starts at the
 * vessel's far end is cut flat there, so that the vessel grows no longer.
 */
export function sleeve(
  workshop: Workshop,
  centreline: readonly Vec3[],
  stretch: { fromMm: number; toMm: number },
  diameterMm: number,
): Manifold | undefined {
  const line = new Polyline(centreline as Vec3[]);
  const from = Math.max(0, stretch.fromMm);
  const to = Math.min(line.lengthMm, stretch.toMm);
  if (!(to > from)) return undefined;
  const radius = diameterMm / 2 / Math.cos(Math.PI / CORNERS);
  const steps = Math.max(1, Math.ceil((to - from) / Math.max(0.5, diameterMm / 3)));
  const balls = Array.from({ length: steps + 1 }, (_, i) =>
    workshop.sphere(line.pointAt(from + ((to - from) * i) / steps), radius, CORNERS),
  );
  const links: Manifold[] = [];
  for (let i = 0; i < steps; i++) links.push(workshop.hull([balls[i], balls[i + 1]]));
  if (from === 0) {
    const normal = line.directionAt(0, diameterMm / 2);
    const offset = dot(line.pointAt(0), normal);
    for (let i = 0; i < Math.min(links.length, Math.ceil((2 * radius * steps) / (to - from)) + 1); i++)
      links[i] = workshop.keep(links[i].trimByPlane(normal, offset));
  }
  return workshop.union(links.filter((link) => !link.isEmpty()));
}
