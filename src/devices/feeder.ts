import type { Shelf } from '../case/case.js';
import type { Mm } from '../foundation/unit-types.js';
import type { Rules } from '../rules/rule.js';

/** A feeding artery that a device is to close. Lengths mm. */
export interface FeederToClose {
  name: string;
  /** Landing calibre; absent where the feeder has no landing zone. */
  calibreMm?: Mm;
  /** 95 %. */
  calibreIntervalMm?: [Mm, Mm];
  largestWidthMm?: Mm;
  /** The calibre that the scan shows, where it disagrees with that of the surface beyond both intervals. */
  imageCalibreMm?: Mm;
  zoneLengthMm?: Mm;
  toSacMm?: Mm;
  /** Of its lesion, mL. */
  sacVolumeMl?: number;
  /** Why there is no calibre. */
  absentBecause?: string;
}

/** What device fit needs beside the feeder. Dates are ISO texts. */
export interface FitContext {
  shelf?: Shelf;
  /** undefined: the case does not say. */
  allergies?: readonly string[];
  today?: string;
  plannedDate?: string;
  rules: Rules;
}

/** Whether the feeder has a landing calibre to size a device on. */
export const hasCalibre = (feeder: FeederToClose): feeder is FeederToClose & { calibreMm: Mm } =>
  feeder.calibreMm !== undefined;
