import { type LandingTruth, landingTruth } from '../../src/phantoms/landing-truth.js';

/** Part by which the true calibres are changed to see whether the landing zone hangs on a hair. */
const CHANGE = 0.01;

/**
 * Whether a landing zone by definition is settled: its truth is worked again with the true calibres larger, smaller and tilted by
 * 1 % to either side. Where that alone moves the zone by more than `lengthMm` or its calibre by more than `calibreMm` beyond the
 * 1 %, no measurement can be held to it. Decided from the truth alone.
 */
export function isSettled(
  truth: { calibreAt(s: number): number; neckAtMm?: number; landing?: LandingTruth },
  branchEdgeMm: number | undefined,
  lengthMm: number,
  calibreMm: number,
): boolean {
  const neck = truth.neckAtMm!;
  const from = branchEdgeMm ?? 0;
  const tilt = (s: number): number => (2 * (s - from)) / (neck - from) - 1;
  const changes: ((s: number) => number)[] = [() => 1, () => -1, tilt, (s) => -tilt(s)];
  return changes.every((change) => {
    const again = landingTruth((s) => truth.calibreAt(s) * (1 + CHANGE * change(s)), neck, branchEdgeMm);
    if (!again || !truth.landing) return again === truth.landing;
    return (
      Math.abs(again.lengthMm - truth.landing.lengthMm) <= lengthMm &&
      Math.abs(again.calibreMm - truth.landing.calibreMm) <= calibreMm + CHANGE * truth.landing.calibreMm
    );
  });
}
