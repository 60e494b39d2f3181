import { rounded } from '../foundation/number-text.js';
import { Z95 } from '../foundation/student-t.js';
import { mean } from '../geometry/statistics.js';
import type { Result } from '../result/result.generated.js';
import type { Gauge } from './gauges/gauge.js';
import type { PrintJob } from './print-job.js';

type Row = NonNullable<NonNullable<Result['print']>['error_chain']>[number];

/**
 * How wrong a true print can still be at each feeder's landing zone, mm of true size, one row per feeder.
 *
 * Formula   total = |shift| + 1.96·sqrt(scan² + segmentation² + process²), shift = thickening + simplification
 * Source    JCGM 100:2008 (independent errors add in quadrature; a known shift does not), from memory
 * Units     scan: standard deviation from the calibre's 95 % interval; absent without the scan's resolution
 *           segmentation: calibre of the surface minus that of the image if measured, else the published deviation
 *           simplification: printed section minus the vessel as segmented, at the check points of the zone; for a thickened zone this
 *           is the thickening
 *           process: the deviation allowed for the print
 */
export function errorChain(job: PrintJob, gauges: readonly Gauge[]): Row[] {
  const { rules, scale } = job;
  return job.lesion.vessels.flatMap((v): Row[] => {
    const { landing } = v;
    if (!v.role.endsWith('feeder') || !landing) return [];
    const inZone = gauges.filter(
      (g) => g.vessel === v.name && g.atMm! >= landing.fromMm - 0.5 && g.atMm! <= landing.toMm + 0.5,
    );
    if (inZone.length === 0) return [];
    const shiftMm = mean(inZone.map((g) => g.expectedMm - 2 * job.wallMm - g.vesselMm!)) / scale;
    const isThickened = inZone.some((g) => g.notToSize);
    const [low, high] = landing.calibreIntervalMm;
    const scanMm = job.input.isResolutionKnown ? (high - low) / (2 * Z95) / scale : undefined;
    const isMeasured = landing.imageCalibreMm !== undefined;
    const segmentationMm = isMeasured
      ? Math.abs(landing.calibreMm - landing.imageCalibreMm!) / scale
      : rules.segmentationMm;
    const processMm = rules.deviationMm / scale;
    const spreadMm = Z95 * Math.hypot(scanMm ?? 0, segmentationMm, processMm);
    return [
      {
        vessel: v.name,
        ...(scanMm !== undefined && { scan_mm: rounded(scanMm, 3) }),
        segmentation_mm: rounded(segmentationMm, 3),
        segmentation_from: isMeasured ? 'measured' : 'published',
        thickening_mm: rounded(isThickened ? shiftMm : 0, 3),
        simplification_mm: rounded(isThickened ? 0 : shiftMm, 3),
        process_mm: rounded(processMm, 3),
        total_mm: rounded(Math.abs(shiftMm) + spreadMm, 2),
      },
    ];
  });
}
