import type { FeederToClose } from '../devices/feeder.js';
import { type LesionMeasure, zoneDisagrees } from '../geometry/measure.js';

/** The feeding arteries of a lesion in the form that device fit needs. */
export function feedersToClose({ vessels, sac }: Pick<LesionMeasure, 'vessels' | 'sac'>): FeederToClose[] {
  return vessels
    .filter(({ role }) => role === 'feeder')
    .map((v) => ({
      name: v.name,
      calibreMm: v.landing?.calibreMm,
      calibreIntervalMm: v.landing?.calibreIntervalMm,
      largestWidthMm: v.landing?.largestWidthMm,
      ...(zoneDisagrees(v) && { imageCalibreMm: v.landing?.imageCalibreMm }),
      zoneLengthMm: v.landing?.lengthMm,
      toSacMm: v.landing?.toSacMm,
      sacVolumeMl: sac?.volumeMl,
      absentBecause: v.landingAbsentBecause,
    }));
}
