import type { Shelf } from '../case/case.js';
import type { Mm } from '../foundation/unit-types.js';
import type { Rules } from '../rules/rule.js';

/** A feeding artery that a device is to close. Lengths mm. */
export interface FeederToClose {
  name: string;
  /** Landing calibre; absent if the feeder has no landing zone. */
  calibreMm?: Mm;
  /** 95 %. */
  calibreIntervalMm?: [Mm, Mm];
  largestWidthMm?: Mm;
  /** The calibre in the scan, if it differs from that of the surface beyond both intervals. */
  imageCalibreMm?: Mm;
  zoneLengthMm?: Mm;
  toSacMm?: Mm;
  /** Volume of its lesion's sac, mL. */
  sacVolumeMl?: number;
  /** Why there is no calibre. */
  absentBecause?: string;
}

/** The input of device fit other than the feeder. Dates are ISO strings. */
export interface FitContext {
  shelf?: Shelf;
  /** undefined: the case does not say. */
  allergies?: readonly string[];
  today?: string;
  plannedDate?: string;
  rules: Rules;
}

/** Whether the feeder has a landing calibre for sizing a device. */
export const hasCalibre = (feeder: FeederToClose): feeder is FeederToClose & { calibreMm: Mm } =>
  feeder.calibreMm !== undefined;
