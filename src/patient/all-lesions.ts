import type { Case, Shelf } from '../case/case.js';
import type { NamedLesion, PatientFile, Remainder } from '../case/parse-patient.js';
import type { DevicePlan } from '../devices/plan-devices.js';
import { planDevices } from '../devices/plan-devices.js';
import type { LesionMeasure, VesselMeasure } from '../geometry/measure.js';
import { feedersToClose } from '../plan/feeders-to-close.js';
import { isNoneOpen } from '../plan/none-open.js';
import type { Rules } from '../rules/rule.js';

/** A lesion that was read and measured; its case includes the patient's blocks. */
export interface MeasuredLesion {
  id: string;
  /** Path of its case file, from the patient file. */
  file: string;
  case: Case;
  lesion: LesionMeasure;
}

/** A lesion that could not be used, and why, one line each. */
export interface FailedLesion {
  id: string;
  file: string;
  problems: readonly string[];
}

/** `LESION/NAME`. */
export const feederName = (lesion: string, name: string): string => `${lesion}/${name}`;

/** The vessels of all lesions under unique names, in the order of the file; none from a closed lesion. */
export function allVessels(lesions: readonly MeasuredLesion[]): VesselMeasure[] {
  return lesions.flatMap(({ id, case: patientCase, lesion }) =>
    isNoneOpen(patientCase)
      ? []
      : lesion.vessels.map((vessel) => ({ ...vessel, name: feederName(id, vessel.name) })),
  );
}

/**
 * One case for the whole patient: its blocks, and the parts of the lesions that blood gases are judged by. `treated` is the latest
 * treatment of any lesion; the scan date is that of all lesions.
 */
export function wholeCase(
  { shared }: Pick<PatientFile, 'shared'>,
  lesions: readonly MeasuredLesion[],
  remainder: Remainder,
): Case {
  const [first] = lesions;
  const others = remainder === 'unknown' ? 'unknown' : undefined;
  if (lesions.length === 1)
    return {
      ...first.case,
      id: shared.id,
      lesion: { ...first.case.lesion, otherLesions: others ?? oneLesions(first, remainder) },
    };
  const treated = lesions
    .flatMap(({ case: { lesion } }) => lesion.treated ?? [])
    .sort()
    .at(-1);
  return {
    ...shared,
    scan: first?.case.scan ?? shared.scan,
    surfaces: lesions.find(({ case: patientCase }) => patientCase.surfaces)?.case.surfaces,
    bleeding: lesions.find(({ case: { bleeding } }) => bleeding)?.case.bleeding ?? shared.bleeding,
    lesion: { segments: [], treated, otherLesions: others },
  };
}

/** Applies to a single lesion: a stated remainder answers the question on other lesions. */
const oneLesions = ({ case: { lesion } }: MeasuredLesion, remainder: Remainder) =>
  typeof remainder === 'number' ? undefined : lesion.otherLesions;

/** Devices for the feeders of all lesions from one shelf: no piece is given twice. */
export function allDevices(
  lesions: readonly MeasuredLesion[],
  shared: Case,
  shelf: Shelf | undefined,
  today: string | undefined,
  rules: Rules,
): DevicePlan {
  const feeders = lesions.flatMap(({ id, case: patientCase, lesion }) =>
    isNoneOpen(patientCase)
      ? []
      : feedersToClose(lesion).map((feeder) => ({ ...feeder, name: feederName(id, feeder.name) })),
  );
  return planDevices(feeders, {
    shelf,
    allergies: shared.patient.allergies,
    today,
    plannedDate: shared.planned.date,
    rules,
  });
}

/** The shelf for one lesion, without the pieces allocated to feeders of the others. */
export function shelfFor(
  lesion: Pick<NamedLesion, 'id'>,
  { devices }: Pick<DevicePlan, 'devices'>,
  shelf: Shelf | undefined,
): Shelf | undefined {
  if (shelf === undefined) return undefined;
  const taken = new Map<string, number>();
  for (const [name, { code, count = 1, on_shelf: isOnShelf }] of Object.entries(devices))
    if (code !== undefined && isOnShelf && !name.startsWith(`${lesion.id}/`))
      taken.set(code, (taken.get(code) ?? 0) + count);
  return {
    ...shelf,
    devices: shelf.devices.map((device) => ({
      ...device,
      inStock:
        device.inStock === undefined
          ? undefined
          : Math.max(0, device.inStock - (taken.get(device.code) ?? 0)),
    })),
  };
}
