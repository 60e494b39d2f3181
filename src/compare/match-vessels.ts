import { distance, subtract, type Vec3 } from '../foundation/vector.js';
import type { Result, Vessel } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';

/** One vessel of both scans, or of one of them. */
export interface VesselMatch {
  role: Vessel['role'];
  oldName?: string;
  newName?: string;
  matchedBy: 'name' | 'geometry' | 'none';
  /** Between the two necks, each seen from the middle of its sac, mm. */
  neckDistanceMm?: number;
  /** Mean distance between the two centrelines over the shorter one, seen in the same way, mm. */
  courseDistanceMm?: number;
}

interface Placed {
  name: string;
  vessel: Vessel;
  neck?: Vec3;
  course: Vec3[];
  calibreMm: number;
}

/**
 * Finds each vessel of the old result in the new one: by its name where the role is the same, else by its geometry (neck, course
 * and calibre within the limits of the rules, the nearest neck first). Scans are not registered to one another: places are
 * taken from the middle of the sac, or as they are where a scan has no sac. Old vessels first, then what is new.
 * `notes` names vessels that seem to have changed names between the scans.
 */
export function matchVessels(
  old: Result,
  now: Result,
  rules: Rules,
): { matches: VesselMatch[]; notes: string[] } {
  const shared = old.sac?.centre_mm !== undefined && now.sac?.centre_mm !== undefined;
  const before = place(old, shared);
  const after = place(now, shared);
  const partner = new Map<Placed, { to: Placed; by: 'name' | 'geometry' }>();
  const free = new Set(after);
  for (const one of before) {
    const same = after.find(({ name, vessel }) => name === one.name && vessel.role === one.vessel.role);
    if (same === undefined) continue;
    partner.set(one, { to: same, by: 'name' });
    free.delete(same);
  }
  const pairs = before
    .filter((one) => !partner.has(one))
    .flatMap((one) => [...free].filter((other) => isSame(one, other, rules)).map((other) => ({ one, other })))
    .sort((a, b) => gap(a.one, a.other) - gap(b.one, b.other));
  for (const { one, other } of pairs) {
    if (partner.has(one) || !free.has(other)) continue;
    partner.set(one, { to: other, by: 'geometry' });
    free.delete(other);
  }
  const matches = before.map((one): VesselMatch => {
    const found = partner.get(one);
    if (found === undefined) return { role: one.vessel.role, oldName: one.name, matchedBy: 'none' };
    const { to, by } = found;
    return {
      role: one.vessel.role,
      oldName: one.name,
      newName: to.name,
      matchedBy: by,
      ...(one.neck && to.neck && { neckDistanceMm: distance(one.neck, to.neck) }),
      ...(one.course.length > 0 && to.course.length > 0 && { courseDistanceMm: courseDistance(one, to) }),
    };
  });
  for (const { name, vessel } of free) matches.push({ role: vessel.role, newName: name, matchedBy: 'none' });
  return { matches, notes: swappedNames(partner, rules) };
}

function place(result: Result, fromSac: boolean): Placed[] {
  const origin = fromSac ? (result.sac?.centre_mm as Vec3) : ([0, 0, 0] as Vec3);
  return Object.entries(result.vessels).map(([name, vessel]) => {
    const course = (vessel.centreline_mm ?? []).map((p) => subtract(p as Vec3, origin));
    // a branch has no neck: where it meets its parent stands for it
    const neck = vessel.neck ? subtract(vessel.neck.point_mm as Vec3, origin) : course.at(-1);
    return { name, vessel, course, calibreMm: vessel.calibre_mm.mean, ...(neck && { neck }) };
  });
}

const gap = (a: Placed, b: Placed): number =>
  a.neck && b.neck ? distance(a.neck, b.neck) : Number.POSITIVE_INFINITY;

function isSame(a: Placed, b: Placed, rules: Rules): boolean {
  if (a.vessel.role !== b.vessel.role || a.course.length === 0 || b.course.length === 0) return false;
  const ratio = Math.max(a.calibreMm, b.calibreMm) / Math.min(a.calibreMm, b.calibreMm);
  return (
    gap(a, b) <= numberOf(rules, 'same-vessel-neck') &&
    courseDistance(a, b) <= numberOf(rules, 'same-vessel-course') &&
    ratio <= numberOf(rules, 'same-vessel-calibre')
  );
}

/** Mean distance from the points of one course to the other, for the course that lies nearer: the longer one reaches farther. */
function courseDistance(a: Placed, b: Placed): number {
  const mean = (from: readonly Vec3[], to: readonly Vec3[]): number =>
    from.reduce((sum, p) => sum + Math.min(...to.map((q) => distance(p, q))), 0) / from.length;
  return Math.min(mean(a.course, b.course), mean(b.course, a.course));
}

/** Pairs matched by name whose necks lie apart while each lies at the other's place. */
function swappedNames(
  partner: ReadonlyMap<Placed, { to: Placed; by: 'name' | 'geometry' }>,
  rules: Rules,
): string[] {
  const named = [...partner].filter(([, { by }]) => by === 'name').map(([one, { to }]) => ({ one, to }));
  const notes: string[] = [];
  for (const [i, first] of named.entries()) {
    if (isSame(first.one, first.to, rules) || first.one.neck === undefined) continue;
    const second = named
      .slice(i + 1)
      .find(({ one, to }) => isSame(first.one, to, rules) && isSame(one, first.to, rules));
    if (second)
      notes.push(
        `${first.one.name} and ${second.one.name} lie in each other's place in the new scan: they seem to have changed names. They are compared by name; mend the names and compare again.`,
      );
    else
      notes.push(
        `${first.one.name} of the new scan does not lie where ${first.one.name} of the old one lay. It is compared by its name; check that it is the same vessel.`,
      );
  }
  return notes;
}
