import { type Finding, finding } from '../../foundation/finding.js';
import { distance, type Vec3 } from '../../foundation/vector.js';
import { branchPlace } from '../branch-opening.js';
import { Polyline } from '../polyline.js';
import { refineCentreline } from '../refine-centreline.js';
import type { Section } from '../section.js';
import type { Surface } from '../surface.js';
import { bareEnd } from './branch-end.js';
import { bridgeOpenings } from './bridge-openings.js';
import { prolongIntoSac, vesselOnly } from './follow-vessel.js';
import { openingOnParent, ringsBeforeParent } from './junction.js';
import { follow, type Tracked } from './tracked-vessel.js';

/**
 * Margins around an opening within which a parent's sections are left out, in its calibres, one for each round of straightening the
 * parents: the place of an opening and the line of its parent depend on each other.
 */
const MARGINS = [1, 0.3, 0.3] as const;

/**
 * Follows the branches and finds their openings. A junction pulls its parent's line towards the branch, so the parent's line is refined
 * again without the sections there, and the openings are then located on the straightened line.
 */
export function joinBranches(
  surface: Surface,
  tracked: ReadonlyMap<string, Tracked>,
  sacMiddle: Vec3,
  findings: Finding[],
): void {
  const vessels = [...tracked.values()];
  const branches = vessels.filter((vessel) => vessel.end.role === 'branch');
  const said: Finding[] = [];
  for (const margin of MARGINS) {
    said.length = 0;
    for (const vessel of vessels) vessel.openings = [];
    for (const vessel of branches) followBranch(surface, vessel, tracked, sacMiddle, said);
    for (const vessel of vessels)
      if (vessel.openings.length > 0) straightenAtOpenings(surface, vessel, sacMiddle, margin);
  }
  findings.push(...said);
}

/** Follows a branch up to its parent's wall and records its opening there. */
function followBranch(
  surface: Surface,
  vessel: Tracked,
  all: ReadonlyMap<string, Tracked>,
  sacMiddle: Vec3,
  findings: Finding[],
): void {
  const parent = vessel.end.of === undefined ? undefined : all.get(vessel.end.of);
  if (!parent?.followed) {
    follow(surface, vessel, findings);
    return;
  }
  // Extended into the sac, because a branch may leave so close to it that the parent's sections end there.
  const parentLine = prolongIntoSac(surface, parent.followed, sacMiddle);
  follow(surface, vessel, findings, ringsBeforeParent(vessel.rings, parentLine, parent.followed.calibreMm));
  if (!vessel.followed) return;
  const { line, calibreMm } = bareEnd(
    surface,
    vessel.followed,
    vessel.rings,
    parentLine,
    parent.followed.calibreMm / 2,
  );
  const place = branchPlace(line, parentLine, calibreMm);
  const range = openingOnParent(parentLine, () => parent.followed!.calibreMm, line, calibreMm, place);
  if (range) parent.openings.push({ name: vessel.end.name, atMm: place.atMm, ...range, calibreMm });
  else
    findings.push(
      finding(
        'caution',
        'branch-not-joined',
        vessel.end.name,
        `its opening on ${vessel.end.of} was not found`,
      ),
    );
}

/**
 * Refines the line again without the sections at branch openings, which pull it towards the branch, and continues from there towards the
 * sac, because a line may first end at a wide junction.
 */
function straightenAtOpenings(
  surface: Surface,
  vessel: Tracked,
  sacMiddle: Vec3,
  marginCalibres: number,
): void {
  const before = vessel.followed!;
  const line = vessel.end.role === 'branch' ? before.line : prolongIntoSac(surface, before, sacMiddle);
  const margin = marginCalibres * before.calibreMm;
  const { lengthMm } = before.line;
  // some sections between an opening and an end of the line must be kept, or the line would lose that end
  const stretches = vessel.openings.map((o) => ({
    fromMm: o.fromMm - Math.min(margin, Math.max(0, o.fromMm) / 2),
    toMm: o.toMm + (o.toMm < lengthMm ? Math.min(margin, (lengthMm - o.toMm) / 2) : margin),
  }));
  const isClear = (section: Section): boolean => {
    const { at } = line.project(section.centre);
    return !stretches.some((o) => at >= o.fromMm && at <= o.toMm);
  };
  const again = refineCentreline(surface, line.points, before.calibreMm, (sections) =>
    vesselOnly(sections.map((section) => (section && isClear(section) ? section : undefined))),
  );
  if (!again) return;
  const cap = before.line.points[0];
  const joined = distance(cap, again.line.points[0]) > 1e-6 ? [cap, ...again.line.points] : again.line.points;
  const whole = new Polyline(joined);
  // the places of the openings refer to the previous line
  const places = stretches.map(({ fromMm, toMm }) => ({
    fromMm: whole.project(line.pointAt(fromMm)).at,
    toMm: whole.project(line.pointAt(toMm)).at,
  }));
  const bridged = bridgeOpenings(surface, whole, places, again.calibreMm);
  vessel.followed = { line: bridged, calibreMm: again.calibreMm };
  // an opening close to the sac may be beyond the line's end
  const onto = vessel.end.role === 'branch' ? bridged : prolongIntoSac(surface, vessel.followed, sacMiddle);
  const anew = (at: number): number => onto.project(line.pointAt(at)).at;
  vessel.openings = vessel.openings.map((o) => ({
    ...o,
    atMm: anew(o.atMm),
    fromMm: anew(o.fromMm),
    toMm: anew(o.toMm),
  }));
}
