import { type LandingTruth, landingTruth } from '../../src/phantoms/landing-truth.js';

/** Fraction by which the true calibres are changed to see whether the landing zone is ill-conditioned. */
const CHANGE = 0.003;

/**
 * Other step sizes of the search, mm, up to the spacing of a profile: in a flare the first position found can depend on them.
 */
const STEPS_MM = [0.02, 0.1, 0.5] as const;

/**
 * Whether a landing zone is well defined: its truth is computed again with the true calibres larger, smaller, tilted, more
 * and less uneven, by 0.3 % at most, and in finer and coarser steps. Where that alone moves the zone by more than `lengthMm`
 * or its calibre by more than `calibreMm` beyond the 0.3 %, no measurement can be held to it. Decided from the truth alone.
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
  const mean = truth.landing?.calibreMm ?? truth.calibreAt((from + neck) / 2);
  // wide parts wider and narrow ones narrower, or the other way round
  const contrast = (s: number): number =>
    Math.min(1, Math.max(-1, (truth.calibreAt(s) / mean - 1) / (5 * CHANGE)));
  const changes: ((s: number) => number)[] = [
    () => 1,
    () => -1,
    tilt,
    (s) => -tilt(s),
    contrast,
    (s) => -contrast(s),
  ];
  const agrees = (again: LandingTruth | undefined): boolean => {
    if (!again || !truth.landing) return again === truth.landing;
    return (
      Math.abs(again.lengthMm - truth.landing.lengthMm) <= lengthMm &&
      Math.abs(again.calibreMm - truth.landing.calibreMm) <= calibreMm + CHANGE * truth.landing.calibreMm
    );
  };
  return (
    changes.every((change) =>
      agrees(landingTruth((s) => truth.calibreAt(s) * (1 + CHANGE * change(s)), neck, branchEdgeMm)),
    ) && STEPS_MM.every((step) => agrees(landingTruth(truth.calibreAt, neck, branchEdgeMm, step)))
  );
}
