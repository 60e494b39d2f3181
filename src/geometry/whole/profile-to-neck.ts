import { type Finding, finding } from '../../foundation/finding.js';
import { fixed } from '../../foundation/number-text.js';
import type { Vec3 } from '../../foundation/vector.js';
import { crowdedStretches, saysCrowded } from '../crowded.js';
import type { FollowedVessel } from '../describe-vessel.js';
import type { MeasureDefinitions, ProfileSample } from '../measure.js';
import type { Polyline } from '../polyline.js';
import { calibreProfile, openStretches } from '../profile.js';
import { straightLine } from '../statistics.js';
import type { Surface } from '../surface.js';
import { lineToParent } from './branch-end.js';
import { prolongIntoSac } from './follow-vessel.js';
import { neckByCalibre } from './neck-by-calibre.js';
import type { Tracked } from './tracked-vessel.js';

/**
 * Calibres of a followed vessel from its far end to its neck (a branch: to its parent's wall), local coordinates, mm. `sacMiddle` is the
 * place to which a line is extended beyond its vessel; `all` holds the parents of branches. Warnings about the neck, and reasons for a
 * missing profile, are added to `findings`.
 */
export function profileOf(
  surface: Surface,
  vessel: Tracked,
  sacMiddle: Vec3,
  all: ReadonlyMap<string, Tracked>,
  definitions: MeasureDefinitions,
  findings: Finding[],
): FollowedVessel | undefined {
  const own = vessel.followed!;
  const { name, role } = vessel.end;
  const stepMm = definitions.profileStepMm;
  const base = { name, role, branches: vessel.openings, edgeMm: surface.meanEdgeMm() };
  if (role === 'branch') return profileOfBranch(surface, vessel, all, base, stepMm, findings);
  const line = prolongIntoSac(surface, own, sacMiddle);
  const long = calibreProfile(
    surface,
    line,
    own.calibreMm,
    { fromMm: 0, toMm: line.lengthMm, stepMm },
    openStretches(vessel.openings),
  );
  const closely = (fromMm: number, toMm: number): ProfileSample[] =>
    calibreProfile(
      surface,
      line,
      own.calibreMm,
      { fromMm, toMm, stepMm: NEAR_NECK_STEP_MM },
      openStretches(vessel.openings),
    );
  const neckAt = (ratio: number): number | undefined =>
    neckByCalibre(long, ratio, (fromMm, toMm) =>
      closely(fromMm + NEAR_NECK_STEP_MM, toMm - NEAR_NECK_STEP_MM / 2),
    );
  const neck = neckAt(definitions.neckCalibreRatio);
  if (neck === undefined)
    findings.push(
      finding(
        'stop',
        'neck-not-found',
        name,
        `its calibre never stays above ${definitions.neckCalibreRatio} times its median: is this vessel's point at its far end, and is the sac wider than the vessel?`,
      ),
    );
  else {
    const about = closely(neck - NECK_SLOPE_MM, neck + NECK_SLOPE_MM).map((s) => s.equivalentMm);
    const { slope } = straightLine(about, NEAR_NECK_STEP_MM);
    findings.push(...doubtsOfNeck(neck, neckAt, slope, line, vessel, own.calibreMm, definitions));
  }
  const endMm = neck ?? own.line.lengthMm;
  const profile = long.filter((s) => s.atMm <= endMm + 1e-9);
  if (profile.length < 3) return tooShort(name, findings);
  // counted from the neck, so that the last one is on it
  const nearNeckMm = NEAR_NECK_STEP_MM * Math.floor(Math.min(endMm, 2 * own.calibreMm) / NEAR_NECK_STEP_MM);
  const nearNeck = neck !== undefined && role === 'feeder' ? closely(neck - nearNeckMm, neck) : [];
  const crowded = crowdedStretches(profile, endMm);
  if (crowded.length > 0) findings.push(saysCrowded(name, crowded, surface, line));
  return { ...base, line, profile, nearNeck, endMm, meetsSac: neck !== undefined, crowded };
}

/** The same for a branch, up to its parent's wall; sections that include the parent are left out. */
function profileOfBranch(
  surface: Surface,
  vessel: Tracked,
  all: ReadonlyMap<string, Tracked>,
  base: Pick<FollowedVessel, 'name' | 'role' | 'branches' | 'edgeMm'>,
  stepMm: number,
  findings: Finding[],
): FollowedVessel | undefined {
  const own = vessel.followed!;
  const { name } = base;
  const parent = vessel.end.of === undefined ? undefined : all.get(vessel.end.of);
  const opening = parent?.openings.find((o) => o.name === name);
  const joined = parent?.followed && lineToParent(surface, own, vessel.rings, parent.followed, opening);
  if (parent?.followed && !joined) {
    const text = `its line does not reach ${vessel.end.of}. It is not measured.`;
    findings.push(finding('stop', 'vessel-not-measured', name, text));
    return undefined;
  }
  const { line, bareMm } = joined ?? { line: own.line, bareMm: own.line.lengthMm };
  const range = { fromMm: 0, toMm: bareMm, stepMm };
  const profile = calibreProfile(surface, line, own.calibreMm, range, openStretches(vessel.openings));
  if (profile.length < 3) return tooShort(name, findings);
  const crowded = crowdedStretches(profile, bareMm);
  if (crowded.length > 0) findings.push(saysCrowded(name, crowded, surface, line));
  return { ...base, line, profile, endMm: line.lengthMm, meetsSac: false, crowded };
}

/** Distance to either side over which the calibre's rise at a neck is taken, mm. */
const NECK_SLOPE_MM = 0.5;

/** Warnings about a neck: its place is poorly defined, or inscribed balls put it elsewhere. */
export function doubtsOfNeck(
  neckMm: number,
  neckAt: (ratio: number) => number | undefined,
  slope: number,
  line: Polyline,
  { end, lastNarrow }: Tracked,
  calibreMm: number,
  { neckCalibreRatio: ratio, neckSoftMargin: margin, neckSoftSlope }: MeasureDefinitions,
): Finding[] {
  const doubts: Finding[] = [];
  if (slope < neckSoftSlope) {
    const [low, high] = [neckAt(ratio - margin) ?? neckMm, neckAt(ratio + margin)];
    const range =
      high === undefined
        ? `from ${fixed(Math.min(low, neckMm), 1)} mm on`
        : `between ${fixed(Math.min(low, neckMm), 1)} and ${fixed(Math.max(high, neckMm), 1)} mm`;
    const text = `its neck, ${fixed(neckMm, 1)} mm from the far end, has no sharp place: the calibre rises by ${fixed(slope, 2)} mm per mm there. With ${fixed(ratio - margin, 2)} to ${fixed(ratio + margin, 2)} instead of ${ratio} times the median it is ${range}.`;
    doubts.push(finding('caution', 'neck-soft', end.name, text));
  }
  const balls = lastNarrow && line.project(lastNarrow.centre).at;
  if (balls !== undefined && Math.abs(balls - neckMm) > calibreMm) {
    const look =
      balls > neckMm
        ? 'check whether the wide place between them belongs to the sac (a wall across it narrows the path) or to the vessel'
        : 'look at the place';
    const text = `its neck is ${fixed(neckMm, 1)} mm from the far end by its sections and ${fixed(balls, 1)} mm by inscribed balls: ${look}. The results use the sections.`;
    doubts.push(finding('caution', 'neck-places-differ', end.name, text));
  }
  return doubts;
}

/** Spacing of the sections just before a neck, mm. */
const NEAR_NECK_STEP_MM = 0.1;

function tooShort(name: string, findings: Finding[]): undefined {
  findings.push(
    finding('stop', 'vessel-not-followed', name, 'fewer than three sections could be cut across this vessel'),
  );
  return undefined;
}
