import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rangeText } from '../foundation/number-text.js';
import { Z95 } from '../foundation/student-t.js';
import { type VesselMeasure, type VesselWall, type WallStation, zoneDisagrees } from '../geometry/measure.js';
import { median } from '../geometry/statistics.js';
import { meanFwhmMm, type ScanBlur } from './blur.js';
import { comparedRange, lumenOf, type ScanToRead, type VesselInScan, wallStations } from './wall.js';

/** A median of fewer stations is not used. */
const LEAST_STATIONS = 5;
/**
 * Systematic error of a calibre from the image along the whole vessel, whatever the number of stations: a share of the blur's width, and
 * a constant, mm (standard deviations). Checked against simulated scans by `tests/witness/walls.test.ts`; a real kernel is not an exact
 * Gaussian.
 */
const OF_BLUR = 0.04;
const CONSTANT_MM = 0.02;

/**
 * The walls of all vessels in the scan, with its landing calibres. Vessels are returned with `wall` and, if enough stations are in the
 * landing zone, the calibre by the image. Findings name the vessels that surface and scan disagree on.
 */
export function vesselWalls(
  placed: readonly VesselInScan[],
  scan: ScanToRead,
): { vessels: VesselMeasure[]; findings: Finding[] } {
  const found = placed.map((one) => {
    const stations = wallStations(one, scan, lumenOf(one, scan) ?? scan.blur.lumenHu);
    return withWall(one.vessel, stations, scan.blur);
  });
  return { vessels: found, findings: found.flatMap(disagreement) };
}

function withWall(vessel: VesselMeasure, stations: WallStation[], blur: ScanBlur): VesselMeasure {
  const calibre = vessel.calibreMm.mean;
  // closer to the neck the sac's brightness spreads into the vessel, so stations there are used only for a short landing zone
  const [from, to] = comparedRange(vessel);
  const compared = stations.filter(({ atMm }) => atMm >= from - 1e-3 && atMm <= to + 1e-3);
  const wall: VesselWall = { stations: compared };
  const whole = offsetOf(compared, calibre, blur);
  if (whole) Object.assign(wall, { offsetMm: whole.offsetMm, offsetIntervalMm: whole.intervalMm });
  const { landing } = vessel;
  if (!landing) return { ...vessel, wall };
  const inZone = stations.filter(({ atMm }) => atMm >= landing.fromMm - 1e-3 && atMm <= landing.toMm + 1e-3);
  const zone = offsetOf(inZone, calibre, blur);
  if (!zone) return { ...vessel, wall };
  const image = landing.calibreMm - zone.offsetMm;
  return {
    ...vessel,
    wall,
    landing: {
      ...landing,
      imageCalibreMm: image,
      imageCalibreIntervalMm: [
        Math.max(0, landing.calibreMm - zone.intervalMm[1]),
        landing.calibreMm - zone.intervalMm[0],
      ],
    },
  };
}

/** Median offset of stations with its 95 % interval; undefined for fewer than five. */
function offsetOf(
  stations: readonly WallStation[],
  calibreMm: number,
  blur: ScanBlur,
): { offsetMm: number; intervalMm: [number, number] } | undefined {
  if (stations.length < LEAST_STATIONS) return undefined;
  const offsets = stations.map(({ surfaceMm, imageMm }) => surfaceMm - imageMm);
  const offsetMm = median(offsets);
  // 1.4826 MAD estimates the standard deviation of a normal sample; 1.253 is the loss of efficiency of the median
  const scatter = 1.4826 * median(offsets.map((offset) => Math.abs(offset - offsetMm)));
  // stations within one calibre see the same voxels
  const span = stations[stations.length - 1].atMm - stations[0].atMm;
  const independent = Math.max(1, Math.min(stations.length, 1 + span / Math.max(1, calibreMm)));
  const own = (1.253 * scatter) / Math.sqrt(independent);
  const half = Z95 * Math.hypot(own, OF_BLUR * meanFwhmMm(blur), CONSTANT_MM);
  return { offsetMm, intervalMm: [offsetMm - half, offsetMm + half] };
}

function disagreement(vessel: VesselMeasure): Finding[] {
  const { name, landing, wall, calibreSigmaMm } = vessel;
  const image = landing?.imageCalibreMm;
  if (landing && image !== undefined && zoneDisagrees(vessel)) {
    const offset = landing.calibreMm - image;
    return [
      finding(
        'caution',
        'wall-disagrees',
        name,
        `The surface draws ${name} ${fixed(Math.abs(offset), 1)} mm too ${offset > 0 ? 'wide' : 'thin'} in the landing zone: ${fixed(landing.calibreMm, 1)} mm (${rangeText(landing.calibreIntervalMm, 1, 'mm')}), the scan shows ${fixed(image, 1)} mm (${rangeText(landing.imageCalibreIntervalMm!, 1, 'mm')}). Look at the section of the landing zone, correct the segmentation, and measure on the angiogram before a size is opened.`,
      ),
    ];
  }
  if (wall?.offsetMm === undefined || wall.offsetIntervalMm === undefined) return [];
  const [low, high] = wall.offsetIntervalMm;
  const own = Z95 * calibreSigmaMm;
  if (low - own <= 0 && high + own >= 0) return [];
  return [
    finding(
      'caution',
      'wall-disagrees',
      name,
      `The surface draws ${name} ${fixed(Math.abs(wall.offsetMm), 1)} mm too ${wall.offsetMm > 0 ? 'wide' : 'thin'} against the scan (median of ${wall.stations.length} places, ${rangeText([low, high], 1, 'mm')}). Look at its sections and correct the segmentation.`,
    ),
  ];
}
