import type { Shelf } from '../case/case.js';
import type { LesionMeasure } from '../geometry/measure.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import type { Result } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { type DeviceEffect, deviceEffects } from './device-effect.js';
import type { Expectation, Proof, Verdict } from './proof.js';
import type { SurfaceProof } from './surface-proof.js';

/** The surface of a scanned print, mm. */
export interface ScanOfPrint {
  /** Name of its file. */
  shown: string;
  mesh: TriangleMesh;
  unit: { used: string; from: 'flag' | 'file' | 'assumed' };
}

/** The comparisons with the model. */
export interface Proofs {
  readings?: { instrument?: string; proof: Proof };
  surface?: { scan: ScanOfPrint; proof: SurfaceProof };
  /** For a print that is off: its effect on the choice of devices. Absent without a shelf. */
  effects?: DeviceEffect[];
}

/** The worse of both verdicts. */
export function overallVerdict({ readings, surface }: Proofs): Verdict {
  const verdicts = [readings?.proof.verdict, surface?.proof.verdict];
  return (['not-proved', 'biased'] as const).find((v) => verdicts.includes(v)) ?? 'proved';
}

/** Whether a mirrored print would go unnoticed: a caliper cannot show it, and no landmarks were read. */
export const isHandednessOpen = ({ readings, surface }: Proofs): boolean =>
  surface?.proof.registration === undefined && readings?.proof.isMirrored === undefined;

/** The expected reading of each check point of a result. */
export const expectationsOf = (gauges: NonNullable<Result['print']>['gauges']): Expectation[] =>
  gauges.map((g) => ({
    name: g.name,
    expectedMm: g.expected_mm,
    toleranceMm: g.tolerance_mm,
    kind: g.kind ?? 'span',
    vessel: g.vessel,
    deviceChangeMm: g.device_change_mm,
  }));

/**
 * The effect of a print that is off on the choice of devices: for each feeder by its own diameters, else by the scan, else by all
 * diameters. Feeders that are off by less than `leastMm` are left out. Undefined if the print is proved, a mix-up of units explains the
 * readings, or there are no readings.
 */
export function effectsOf(
  { readings, surface }: Proofs,
  lesion: LesionMeasure,
  { shelf, rules, printScale, leastMm }: { shelf: Shelf; rules: Rules; printScale: number; leastMm: number },
): DeviceEffect[] | undefined {
  if (overallVerdict({ readings, surface }) === 'proved' || readings?.proof.slip !== undefined)
    return undefined;
  const offs = new Map<string, number>();
  for (const r of surface?.proof.regions ?? []) if (r.sizeOff) offs.set(r.name, r.sizeOff.mm);
  for (const v of readings?.proof.vessels ?? []) offs.set(v.name, v.biasMm);
  const all = readings?.proof.diameters?.biasMm;
  if (offs.size === 0 && all === undefined) return undefined;
  const offMm = (vessel: string): number => (offs.get(vessel) ?? all ?? 0) / printScale;
  return deviceEffects(lesion, offMm, shelf, rules).filter(
    (e) => Math.abs(e.readMm - e.calibreMm) >= leastMm,
  );
}
