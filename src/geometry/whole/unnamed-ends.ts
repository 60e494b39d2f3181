import type { Finding } from '../../foundation/finding.js';
import { distance, type Vec3 } from '../../foundation/vector.js';
import type { FollowedVessel } from '../describe-vessel.js';
import type { LumenWays, Way } from '../lumen.js';
import type { UnnamedEnd } from '../measure.js';
import type { Surface } from '../surface.js';
import { unnamedFindings } from '../unnamed-findings.js';
import type { EndsOf, FarEnd } from './ends-of.js';
import type { Tracked } from './tracked-vessel.js';
import { ringsAlongWay } from './way-rings.js';

/** Numerical settings. */
const UNNAMED = {
  /** A named point represents an end within this many of its calibres or mm, */
  nearCalibres: 1.5,
  nearMm: 5,
  /** or if it is within this many depths of the end's path. */
  onWay: 1.5,
  /** Greatest number of branches that are followed; for others the opening is taken as one calibre to either side. */
  mostFollowed: 40,
} as const;

/** An unnamed end, with its path to the sac. */
interface Loose {
  end: FarEnd;
  way?: Way;
  /** The named vessel that continues to it beyond its point, or that it joins, with the place there, mm. */
  beyond?: string;
  joins?: { vessel: Tracked; entry: number; atMm: number };
}

export interface LooseEnds {
  /** Number of ends of the surface, named or not. */
  all: number;
  loose: Loose[];
  /** By the name of the branch that represents it, if it joins a vessel that runs to the sac. */
  branches: Map<string, Loose>;
}

/**
 * Open and blind ends without a point in the case, and where they lead. One that joins a named vessel on its way to the sac is added to
 * `tracked` as a branch, so that its opening counts as one.
 */
export function findLooseEnds(
  surface: Surface,
  { lumen, sac }: LumenWays,
  tracked: Map<string, Tracked>,
  points: readonly Vec3[],
  neckRatio: number,
  { ends, isBranched }: EndsOf,
): LooseEnds {
  if (!isBranched) return { all: ends.length, loose: [], branches: new Map() };
  const cells = ends.map((end) => lumen.cellNear(end.at));
  const held = cells.filter((cell) => cell >= 0);
  const found = held.length > 0 ? lumen.deepWays(sac, held) : [];
  const all = ends.map((end, i): Loose => {
    const way = cells[i] >= 0 ? found[held.indexOf(cells[i])] : undefined;
    return { end, ...(way && { way }) };
  });
  const loose = withoutNamed(all, [...tracked.keys()], points);
  for (const one of loose) if (one.way && one.beyond === undefined) joinOf(one, one.way, tracked);
  const branches = enterBranches(surface, loose, tracked, neckRatio);
  return { all: ends.length, loose, branches };
}

/** The ends not represented by a point; each point represents one. */
function withoutNamed(all: readonly Loose[], names: readonly string[], points: readonly Vec3[]): Loose[] {
  const taken = new Set<Loose>();
  const touching = points.map((p) =>
    all.flatMap((one) => {
      const straight = distance(p, one.end.at);
      const isNear = straight <= Math.max(UNNAMED.nearMm, UNNAMED.nearCalibres * one.end.calibreMm);
      const isOnWay = one.way !== undefined && liesOn(p, one.way);
      return isNear || isOnWay ? [{ one, straight, isOnWay }] : [];
    }),
  );
  const pairs = touching.flatMap((list, i) => list.map((entry) => ({ ...entry, i })));
  pairs.sort((a, b) => a.straight - b.straight);
  const served = new Set<number>();
  for (const { one, i } of pairs) {
    if (taken.has(one) || served.has(i)) continue;
    taken.add(one);
    served.add(i);
  }
  touching.forEach((list, i) => {
    for (const { one, isOnWay } of list) if (isOnWay && !taken.has(one)) one.beyond ??= names[i];
  });
  return all.filter((one) => !taken.has(one));
}

const liesOn = (p: Vec3, { points, depthMm }: Way): boolean =>
  points.some((q, i) => distance(p, q) <= UNNAMED.onWay * depthMm[i]);

/** The named vessel whose path this one meets first, and where it enters its lumen. */
function joinOf(one: Loose, way: Way, tracked: ReadonlyMap<string, Tracked>): void {
  const owners = new Map<number, Tracked>();
  for (const vessel of tracked.values())
    for (const cell of vessel.way?.cells ?? []) {
      const known = owners.get(cell);
      // inside its parent's lumen, a branch's parent counts
      if (!known || known.end.role === 'branch') owners.set(cell, vessel);
    }
  const merged = way.cells.findIndex((cell) => owners.has(cell));
  if (merged < 0) return;
  const vessel = owners.get(way.cells[merged])!;
  const { followed } = vessel;
  if (!followed || vessel.end.role === 'branch') {
    if (vessel.end.role === 'branch') one.beyond = vessel.end.name;
    return;
  }
  const { line, calibreMm } = followed;
  const entry = way.points.findIndex((p) => line.project(p).distanceMm < calibreMm / 2);
  const place = line.project(way.points[entry >= 0 && entry <= merged ? entry : merged]);
  // beyond the end of its line a vessel widens into the sac
  if (place.at >= line.lengthMm - 1e-6 || place.at <= 1e-6) return;
  one.joins = { vessel, entry: entry >= 0 && entry <= merged ? entry : merged, atMm: place.at };
}

/** Makes a branch of each end that joins a vessel; if several merge first, only the widest. */
function enterBranches(
  surface: Surface,
  loose: readonly Loose[],
  tracked: Map<string, Tracked>,
  neckRatio: number,
): Map<string, Loose> {
  const branches = new Map<string, Loose>();
  const known = new Set<number>();
  let number = 0;
  const bySize = [...loose].sort((a, b) => b.end.calibreMm - a.end.calibreMm);
  for (const one of bySize) {
    if (!one.joins || !one.way) continue;
    const own = one.way.cells.slice(0, one.joins.entry);
    if (own.some((cell) => known.has(cell))) continue;
    for (const cell of own) known.add(cell);
    do number++;
    while (tracked.has(`unnamed-${number}`));
    const name = `unnamed-${number}`;
    branches.set(name, one);
    if (branches.size > UNNAMED.mostFollowed) continue;
    const { rings } = ringsAlongWay(surface, one.way, neckRatio);
    const end = {
      name,
      role: 'branch' as const,
      of: one.joins.vessel.end.name,
      point: one.end.at,
      where: name,
    };
    tracked.set(name, { end, way: one.way, rings, openings: [], isUnnamed: true });
  }
  return branches;
}

/** An opening one calibre to either side for each branch that could not be followed to its parent. */
export function openingsOfLoose({ branches }: LooseEnds): void {
  for (const [name, { end, joins }] of branches) {
    const { vessel, atMm } = joins!;
    if (vessel.openings.some((opening) => opening.name === name)) continue;
    const fromMm = Math.max(0, atMm - end.calibreMm);
    vessel.openings.push({ name, atMm, fromMm, toMm: atMm + end.calibreMm, calibreMm: end.calibreMm });
  }
}

/** Removes the branches that open beyond the neck of their vessel: they lead to the sac. The neck is only known now. */
export function dropPastNeck({ branches }: LooseEnds, vessel: FollowedVessel): void {
  if (!vessel.meetsSac) return;
  vessel.branches = vessel.branches.filter(({ name, atMm }) => {
    const one = branches.get(name);
    if (!one || atMm < vessel.endMm) return true;
    branches.delete(name);
    delete one.joins;
    return false;
  });
}

/** The ends in the coordinates of the file, largest first, with findings. */
export function describeLoose(
  { all, loose, branches }: LooseEnds,
  toFile: (p: Vec3) => Vec3,
): { ends: UnnamedEnd[]; findings: Finding[] } {
  const branchOf = new Map([...branches].map(([name, one]) => [one, name]));
  const sorted = [...loose].sort((a, b) => b.end.calibreMm - a.end.calibreMm);
  const ends = sorted.map((one): UnnamedEnd => {
    const name = branchOf.get(one);
    const opening = one.joins?.vessel.openings.find((o) => o.name === name);
    return {
      pointMm: toFile(one.end.at),
      calibreMm: one.end.calibreMm,
      leadsTo: one.beyond ?? one.joins?.vessel.end.name ?? (one.way ? 'sac' : undefined),
      ...(one.joins && { atMm: opening?.atMm ?? one.joins.atMm }),
      ...(name !== undefined && { branch: name }),
    };
  });
  return { ends, findings: unnamedFindings(ends, all, 'whole', 'Name them among the ends in the case.') };
}
