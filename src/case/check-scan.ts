import { fixed } from '../foundation/number-text.js';
import type { Scan } from './case.js';

/** The values in a scan's header of fields that a case may also give. */
export interface ScanHeader {
  date?: string;
  /** A single value, or each one that occurs. */
  thicknessMm?: number | readonly number[];
  /** Step between slices. */
  stepMm?: number;
  /** Between columns, then between rows. */
  inPlaneMm?: readonly [number, number];
}

/** A field of the case that the scan contradicts: its path and what is wrong, naming both values. */
export interface Contradiction {
  path: string;
  text: string;
}

/**
 * Fields in which a case contradicts its scan. A length agrees within the written digits or within `share` of the header's. If the scan
 * states no slice thickness, the written thickness must not be less than the step between slices.
 */
export function scanContradictions(scan: Scan, header: ScanHeader, share: number): Contradiction[] {
  const found: Contradiction[] = [];
  const cure = 'Correct one of them, or leave the field out: it is then read from the series.';
  if (scan.date !== undefined && header.date !== undefined && scan.date !== header.date)
    found.push({
      path: 'scan.date',
      text: `the case says ${scan.date}, the header of the series ${header.date}. ${cure}`,
    });
  const agrees = (mm: number, roundingMm: number, stated: number): boolean =>
    Math.abs(mm - stated) <= Math.max(roundingMm, share * stated) + 1e-9;
  const { sliceThicknessMm, inPlaneMm, written = {} } = scan;
  const stated = header.thicknessMm === undefined ? [] : [header.thicknessMm].flat();
  if (sliceThicknessMm !== undefined && written.sliceThickness) {
    const { text, roundingMm } = written.sliceThickness;
    if (stated.length > 0 && !stated.some((mm) => agrees(sliceThicknessMm, roundingMm, mm)))
      found.push({
        path: 'scan.slice_thickness',
        text: `the case says ${text}, the header of the series ${stated.map((mm) => fixed(mm, 2)).join(', ')} mm. ${cure}`,
      });
    else if (
      stated.length === 0 &&
      header.stepMm !== undefined &&
      sliceThicknessMm < header.stepMm &&
      !agrees(sliceThicknessMm, roundingMm, header.stepMm)
    )
      found.push({
        path: 'scan.slice_thickness',
        text: `the case says ${text}, but the slices lie ${fixed(header.stepMm, 2)} mm apart. ${cure}`,
      });
  }
  if (inPlaneMm !== undefined && written.inPlane && header.inPlaneMm) {
    const { text, roundingMm } = written.inPlane;
    const widest = Math.max(...header.inPlaneMm);
    if (!agrees(inPlaneMm, roundingMm, widest))
      found.push({
        path: 'scan.in_plane',
        text: `the case says ${text}, the header of the series ${fixed(widest, 3)} mm. ${cure}`,
      });
  }
  return found;
}
