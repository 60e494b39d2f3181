import type { Shelf } from '../case/case.js';
import { fixed } from '../foundation/number-text.js';
import type { PrintRules } from './process.js';

/** The basis of a tolerance. */
export interface ToleranceBasis {
  rules: PrintRules;
  /** Printed size over true size. */
  printScale: number;
  /** The hospital's devices; absent if the case names no shelf. */
  shelf?: Shelf;
}

export interface Tolerance {
  toleranceMm: number;
  /** The limit that applies, and its source. */
  source: string;
}

const LABEL: Record<string, string> = {
  'vascular-plug': 'vascular plugs',
  'micro-plug': 'micro plugs',
  'detachable-coil': 'detachable coils',
  'pushable-coil': 'pushable coils',
};

/** The smallest step between neighbouring sizes of one kind about a calibre, mm; undefined if no kind has two sizes. */
export function deviceStep(
  shelf: Shelf,
  calibreMm: number,
): { stepMm: number; sizesMm: [number, number]; kind: string } | undefined {
  let best: { stepMm: number; sizesMm: [number, number]; kind: string } | undefined;
  for (const kind of [...new Set(shelf.devices.map((d) => d.kind))].sort()) {
    const sizes = [
      ...new Set(shelf.devices.filter((d) => d.kind === kind).map((d) => d.diameterMm)),
    ].toSorted((a, b) => a - b);
    const above = sizes.findIndex((s) => s >= calibreMm);
    const at = above < 0 ? sizes.length - 1 : above;
    for (const i of [at - 1, at]) {
      if (i < 0 || i + 1 >= sizes.length) continue;
      const stepMm = sizes[i + 1] - sizes[i];
      if (!best || stepMm < best.stepMm) best = { stepMm, sizesMm: [sizes[i], sizes[i + 1]], kind };
    }
  }
  return best;
}

/** Deviation of the print's size, mm as printed, at which the device changes; undefined without a shelf. */
export function deviceChangeMm({ rules, printScale, shelf }: ToleranceBasis, calibreMm: number) {
  const step = shelf && deviceStep(shelf, calibreMm / printScale);
  return step && { ...step, changeMm: rules.deviceStep * step.stepMm * printScale };
}

/**
 * Tolerance of a diameter: the smallest of the deviation of the process, a share of the calibre, and half a step between device sizes.
 * `calibreMm` is that of the lumen, as printed.
 */
export function diameterTolerance(basis: ToleranceBasis, calibreMm: number): Tolerance {
  const { rules } = basis;
  const change = deviceChangeMm(basis, calibreMm);
  const limits: Tolerance[] = [
    { toleranceMm: rules.deviationMm, source: rules.deviationSource },
    {
      toleranceMm: rules.calibreShare * calibreMm,
      source: `${fixed(100 * rules.calibreShare, 0)} % of the calibre (${rules.calibreShareSource})`,
    },
    ...(change
      ? [
          {
            toleranceMm: change.changeMm,
            source: `half a step between device sizes on the shelf (${LABEL[change.kind]} of ${change.sizesMm.join(' and ')} mm)`,
          },
        ]
      : []),
  ];
  const least = limits.reduce((a, b) => (b.toleranceMm < a.toleranceMm ? b : a));
  return { ...least, toleranceMm: rounded(least.toleranceMm) };
}

/** Tolerance of a span, a width or an edge of the tag: the deviation of the process, or a share of the length if that is more. */
export function spanTolerance({ rules }: ToleranceBasis, expectedMm: number): Tolerance {
  const share = rules.spanShare * expectedMm;
  return share > rules.deviationMm
    ? {
        toleranceMm: rounded(share),
        source: `${fixed(100 * rules.spanShare, 1)} % of the length (${rules.spanShareSource})`,
      }
    : { toleranceMm: rounded(rules.deviationMm), source: rules.deviationSource };
}

/** Rounded down to a hundredth of a millimetre. */
const rounded = (mm: number): number => Math.floor(100 * mm + 1e-9) / 100;
