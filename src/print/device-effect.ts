import type { Shelf } from '../case/case.js';
import { fitDevice } from '../devices/fit-device.js';
import type { LesionMeasure } from '../geometry/measure.js';
import type { Rules } from '../rules/rule.js';

/** The effect of a print of another size on the choice of a device. Lengths in the patient, mm. */
export interface DeviceEffect {
  vessel: string;
  calibreMm: number;
  /** Calibre that a measurement of the print would give. */
  readMm: number;
  /** Code of the device for each; absent if none fits. */
  code?: string;
  readCode?: string;
}

/**
 * The device for each feeder's landing calibre, and for the calibre that the print shows: `offMm` gives the excess of the print for a
 * vessel, in true size. Systemic feeders and vessels without a landing zone are left out.
 */
export function deviceEffects(
  lesion: LesionMeasure,
  offMm: (vessel: string) => number,
  shelf: Shelf,
  rules: Rules,
): DeviceEffect[] {
  return lesion.vessels.flatMap((v): DeviceEffect[] => {
    if (v.role !== 'feeder' || !v.landing) return [];
    const { calibreMm, largestWidthMm, lengthMm, toSacMm } = v.landing;
    const off = offMm(v.name);
    const codeAt = (calibre: number, width: number): string | undefined =>
      fitDevice({
        feeder: {
          name: v.name,
          calibreMm: calibre,
          largestWidthMm: width,
          zoneLengthMm: lengthMm,
          toSacMm,
          sacVolumeMl: lesion.sac?.volumeMl,
        },
        shelf,
        rules,
      }).device.code;
    const code = codeAt(calibreMm, largestWidthMm);
    const readCode = codeAt(calibreMm + off, largestWidthMm + off);
    return [
      {
        vessel: v.name,
        calibreMm,
        readMm: calibreMm + off,
        ...(code !== undefined && { code }),
        ...(readCode !== undefined && { readCode }),
      },
    ];
  });
}
