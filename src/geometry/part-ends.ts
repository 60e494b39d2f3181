import { distance } from '../foundation/vector.js';
import { branchPlace } from './branch-opening.js';
import type { SurfaceDistances } from './geodesic.js';
import type { BranchOpening, UnnamedEnd } from './measure.js';
import { Polyline } from './polyline.js';
import { refineCentreline } from './refine-centreline.js';
import { type Ring, ringsAlongPath } from './rough-path.js';
import type { Surface } from './surface.js';
import type { VesselLine } from './vessel-centreline.js';
import { type FarEnd, endsFrom } from './whole/ends-of.js';
import { openingOnParent } from './whole/junction.js';

/** An end of a vessel's surface that is not named in the case. */
export interface SideEnd {
  end: UnnamedEnd;
  /** Its opening on the vessel, if it joins it. */
  opening?: Omit<BranchOpening, 'name'>;
}

/** A point represents an end within this many calibres or mm. Numerical settings. */
const NEAR_CALIBRES = 1.5;
const NEAR_MM = 5;
/** A ring wider than this is tilted; fewer clear rings than this give no direction. */
const WIDE_RING = 1.25;
const LEAST_RINGS = 8;

/**
 * Ends of one vessel's surface other than its far end and the one at the sac (where `distances` start): stumps and branches left on it by the
 * segmentation. An end continued by another structure of the case counts as named.
 */
export function sideEnds(
  surface: Surface,
  { line, calibreMm }: VesselLine,
  distances: SurfaceDistances,
  others: readonly Surface[],
): { all: number; loose: SideEnd[] } {
  const ends = endsFrom(surface, distances);
  const far = line.points[0];
  const isNear = (end: FarEnd): boolean =>
    distance(end.at, far) <= Math.max(NEAR_MM, NEAR_CALIBRES * end.calibreMm);
  const own = [...ends].filter(isNear).sort((a, b) => distance(a.at, far) - distance(b.at, far))[0];
  const loose = ends
    .filter((end) => end !== own && !others.some((other) => takesUp(other, end)))
    .map((end): SideEnd => {
      const described = { pointMm: surface.toFile(end.at), calibreMm: end.calibreMm };
      const rings = ringsAlongPath(surface, distances, end.vertex, end.calibreMm / 8);
      const opening = openingOf(surface, rings, end.calibreMm, { line, calibreMm });
      return { end: described, ...(opening && { opening }) };
    });
  return { all: ends.length, loose };
}

const takesUp = (other: Surface, { at, calibreMm }: FarEnd): boolean =>
  other.closest(at, calibreMm) !== undefined || other.isInside(at);

/**
 * The opening of a branch whose rings start at its tip: extended as a tube if they are clear of the parent's wall, else one calibre to
 * either side of their entry.
 */
function openingOf(
  surface: Surface,
  rings: readonly Ring[],
  branchMm: number,
  { line, calibreMm }: VesselLine,
): SideEnd['opening'] {
  const entered = rings.findIndex(({ centre }) => line.project(centre).distanceMm < calibreMm / 2);
  if (entered < 0) return undefined;
  // closer to the parent, rings of equal surface distance are tilted
  const clear = rings
    .slice(0, entered)
    .filter(
      ({ centre, radiusMm }) =>
        line.project(centre).distanceMm > calibreMm / 2 + branchMm / 2 &&
        radiusMm < WIDE_RING * (branchMm / 2),
    );
  if (clear.length >= LEAST_RINGS) {
    const centres = clear.map(({ centre }) => centre);
    const own = refineCentreline(surface, centres, branchMm)?.line ?? new Polyline(centres);
    const place = branchPlace(own, line, branchMm);
    const range = openingOnParent(line, () => calibreMm, own, branchMm, place);
    if (range) return { atMm: place.atMm, ...range, calibreMm: branchMm };
  }
  const atMm = line.project(rings[entered].centre).at;
  return { atMm, fromMm: Math.max(0, atMm - branchMm), toMm: atMm + branchMm, calibreMm: branchMm };
}
