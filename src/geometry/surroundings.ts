import { subtract, type Vec3 } from '../foundation/vector.js';
import { type Frame, rotateToLps } from './frame.js';
import { workingView } from './landing-view.js';
import type { LesionMeasure, MeasureDefinitions, Neighbour, VesselMeasure } from './measure.js';
import { alongLine, type LeastDistance, leastDistance } from './neighbours.js';
import { Polyline } from './polyline.js';
import type { Surface } from './surface.js';

/** A structure to which others may be too close. */
export interface NamedSurface {
  name: string;
  surface: Surface;
}

/** Number of places tested along a landing zone for its working view. */
const VIEW_PLACES = 7;

/**
 * Adds the values of a measured lesion that depend on several structures: the shortest distances to structures at risk, and the working
 * view of each landing zone. `sac` and `vessels` are the surfaces of these names (the same one for all if the whole blood pool is one
 * surface).
 */
export function addSurroundings(
  lesion: LesionMeasure,
  own: { sac?: Surface; vessels: ReadonlyMap<string, Surface> },
  atRisk: readonly NamedSurface[],
  definitions: MeasureDefinitions,
  frame: Frame,
): void {
  for (const vessel of lesion.vessels) {
    const surface = own.vessels.get(vessel.name);
    if (vessel.landing && surface) addView(vessel, vessel.landing, own, definitions, frame);
  }
  const zones = new Map<string, (vertex: number) => boolean>();
  for (const target of atRisk) {
    if (own.sac) push(lesion.neighbours, 'sac', target.name, own.sac, leastDistance(own.sac, target.surface));
    for (const vessel of lesion.vessels) {
      const surface = own.vessels.get(vessel.name);
      if (!vessel.landing || !surface) continue;
      const zone = zones.get(vessel.name) ?? landingZone(vessel, vessel.landing, surface);
      zones.set(vessel.name, zone);
      push(
        lesion.neighbours,
        `${vessel.name} landing zone`,
        target.name,
        surface,
        leastDistance(surface, target.surface, zone),
      );
    }
  }
}

/** Selects the vertices of a vessel's wall along its landing zone. */
function landingZone(
  { centrelineMm }: VesselMeasure,
  { fromMm, toMm, largestWidthMm }: NonNullable<VesselMeasure['landing']>,
  surface: Surface,
): (vertex: number) => boolean {
  const line = new Polyline(centrelineMm.map((p) => subtract(p, surface.originMm)));
  return alongLine(surface, line, fromMm, toMm, largestWidthMm);
}

function push(
  list: Neighbour[],
  from: string,
  to: string,
  surface: Surface,
  found: LeastDistance | undefined,
): void {
  if (!found) return;
  const pointsMm = found.points.map((p) => surface.toFile(p)) as [Vec3, Vec3];
  list.push({ from, to, distanceMm: found.distanceMm, pointsMm });
}

function addView(
  vessel: VesselMeasure,
  landing: NonNullable<VesselMeasure['landing']>,
  own: { sac?: Surface; vessels: ReadonlyMap<string, Surface> },
  definitions: MeasureDefinitions,
  frame: Frame,
): void {
  if (frame === 'unknown') {
    landing.viewAbsentBecause = 'the case does not state the patient axes of the surfaces (surfaces.frame)';
    return;
  }
  const surface = own.vessels.get(vessel.name)!;
  const line = new Polyline(vessel.centrelineMm.map((p) => subtract(p, surface.originMm)));
  const zone: Vec3[] = [];
  for (let i = 0; i < VIEW_PLACES; i++)
    zone.push(line.pointAt(landing.fromMm + (landing.lengthMm * (i + 0.5)) / VIEW_PLACES));
  const others = new Set([...own.vessels.values(), ...(own.sac ? [own.sac] : [])]);
  const overlaps = (point: Vec3, direction: Vec3): boolean => {
    const d = rotateToLps(direction, frame);
    for (const other of others) if (entersBeyondOwnWall(other, point, d)) return true;
    return false;
  };
  const view = workingView(
    zone,
    rotateToLps(landing.direction, frame),
    { laoRaoDeg: definitions.viewLaoRaoReachDeg, cranCaudDeg: definitions.viewCranCaudReachDeg },
    overlaps,
  );
  if (view) landing.view = { laoRaoDeg: view.laoRaoDeg, cranCaudDeg: view.cranCaudDeg };
  else
    landing.viewAbsentBecause =
      `no perpendicular view is within ${definitions.viewLaoRaoReachDeg} degrees LAO/RAO and ` +
      `${definitions.viewCranCaudReachDeg} degrees cranial/caudal`;
}

/** True if the ray re-enters the surface after leaving the lumen of the point. */
function entersBeyondOwnWall(surface: Surface, point: Vec3, direction: Vec3): boolean {
  return (
    surface.firstEntry(point, [
      point[0] + direction[0] * RAY_MM,
      point[1] + direction[1] * RAY_MM,
      point[2] + direction[2] * RAY_MM,
    ]) !== undefined
  );
}

/** Longer than any chest. */
const RAY_MM = 1000;
