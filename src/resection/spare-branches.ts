import type { Case } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { LesionMeasure, VesselMeasure } from '../geometry/measure.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type ListedStructure, listedStructures } from '../case/listed-structures.js';

type Spare = NonNullable<Result['resection']>['spare'][number];

/**
 * The branches to keep by the case, and unnamed branches of feeders, each with the distance (mm) along its parent from the division to
 * the branch's near edge. The division of an artery is planned in the middle of its landing zone, with room for a clamp on either side.
 * Without a landing zone or a measurement the distance is absent, with the reason.
 */
export function spareBranches(
  patientCase: Case,
  lesion: LesionMeasure | undefined,
): { spare: Spare[]; findings: Finding[] } {
  const branches: Pick<ListedStructure, 'name' | 'of' | 'supplies'>[] = (
    listedStructures(patientCase) ?? []
  ).filter((part) => part.role === 'branch' && part.spare === true);
  const loose = unnamedBranches(lesion);
  const unnamed = new Set(loose.map(({ name }) => name));
  branches.push(...loose);
  const findings: Finding[] = [];
  const spare = branches.map((branch): Spare => {
    const base: Spare = {
      name: branch.name,
      ...(branch.supplies !== undefined && { supplies: branch.supplies }),
    };
    const absent = (because: string): Spare => {
      findings.push(
        finding(
          'caution',
          'spare-distance-absent',
          branch.name,
          `Distance from the division to ${branch.name}: ${because}.`,
        ),
      );
      return { ...base, to_division_absent_because: because };
    };
    if (branch.of === undefined) return absent('the case does not say from which vessel it leaves');
    const parent = lesion?.vessels.find((vessel) => vessel.name === branch.of);
    if (parent === undefined) return absent(`${branch.of} was not measured`);
    const opening = parent.branches.find((entry) => entry.name === branch.name);
    if (opening === undefined) return absent(`its opening on ${parent.name} was not found`);
    const { landing } = parent;
    if (landing === undefined) {
      const why = parent.landingAbsentBecause ? ` (${parent.landingAbsentBecause})` : '';
      return absent(`${parent.name} has no landing zone${why}, so its division is chosen at the operation`);
    }
    const divisionMm = (landing.fromMm + landing.toMm) / 2;
    const distanceMm = divisionMm - opening.toMm;
    const division = `middle of the landing zone of ${parent.name}, ${fixed(divisionMm, 1)} mm from its far end`;
    if (opening.fromMm >= divisionMm) {
      const isUnnamed = unnamed.has(branch.name);
      const text = isUnnamed
        ? `${branch.name}, which the case does not name, leaves ${parent.name} beyond the planned division: it would be lost. Find out what it supplies.`
        : `${branch.name} is to be kept but leaves ${parent.name} beyond the planned division: it would be lost.`;
      findings.push(finding(isUnnamed ? 'caution' : 'stop', 'spare-beyond-division', branch.name, text));
      return {
        ...base,
        to_division_absent_because: 'it leaves on the sac side of the division and would be lost',
        division,
      };
    }
    return { ...base, to_division_mm: rounded(Math.max(0, distanceMm), 2), division };
  });
  return { spare, findings };
}

/** Unnamed branches of feeders, which must be kept until someone has checked them. */
function unnamedBranches(lesion: LesionMeasure | undefined): { name: string; of: string }[] {
  return (lesion?.unnamed?.ends ?? []).flatMap(({ branch, leadsTo }) => {
    const parent = lesion?.vessels.find(({ name }) => name === leadsTo);
    return branch !== undefined && parent?.role === 'feeder' ? [{ name: branch, of: parent.name }] : [];
  });
}

/**
 * Whether two clamps and a cuff fit on each feeder: the free stretch from the last branch's edge (or the vessel's far
 * end) to the neck, against `clamp-room`. Feeders without a neck are named as not judged.
 */
export function clampRoom(lesion: LesionMeasure | undefined, rules: Rules): Finding[] {
  const wanted = numberOf(rules, 'clamp-room');
  const feeders = (lesion?.vessels ?? []).filter((vessel) => vessel.role === 'feeder');
  return feeders.flatMap((vessel) => {
    const room = freeStretchMm(vessel);
    if (room === undefined) {
      const text = `No neck was measured on ${vessel.name}, so the room for clamps is not known.`;
      return [finding('note', 'clamp-room-unknown', vessel.name, text)];
    }
    if (room >= wanted - 1e-9) return [];
    const text =
      `${fixed(room, 1)} mm of ${vessel.name} are free before the sac; two clamps and a cuff need ${wanted} mm ` +
      '(common practice, no source). Plan control further up, or a stapler.';
    return [finding('caution', 'clamp-room-short', vessel.name, text)];
  });
}

/** Free stretch of a feeder before its neck, mm; undefined without a neck. */
function freeStretchMm(vessel: VesselMeasure): number | undefined {
  if (vessel.neck === undefined) return undefined;
  return Math.max(0, vessel.neck.atMm - Math.max(0, ...vessel.branches.map((branch) => branch.toMm)));
}
