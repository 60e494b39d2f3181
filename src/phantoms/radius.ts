/** The calibre along a vessel, as plain data, so that a lesion can be written down. `s` from its far end, mm. */
export type CalibreProfile =
  | { kind: 'constant'; calibreMm: number }
  | { kind: 'cone'; fromMm: number; toMm: number }
  | { kind: 'stenosis'; calibreMm: number; narrowestMm: number; atMm: number; widthMm: number }
  | { kind: 'funnel'; calibreMm: number; mouthMm: number; overMm: number }
  | { kind: 'steps'; calibresMm: readonly number[]; atMm: readonly number[]; overMm: number };

/** Smooth step from 0 to 1 on [0, 1]: 3x^2 - 2x^3, flat outside. */
function smoothStep(x: number): number {
  const c = Math.min(Math.max(x, 0), 1);
  return c * c * (3 - 2 * c);
}

/**
 * Calibre (mm) at arc length `s` (mm) of a vessel `lengthMm` long.
 * - constant: the same everywhere
 * - cone: linear from the far end to the near end
 * - stenosis: narrows to `narrowestMm` at `atMm` as (1 + cos)/2 over a total width of `widthMm`
 * - funnel: opens to `mouthMm` over the last `overMm` towards the near end
 * - steps: from each calibre to the next over `overMm` around each place, as past the forks of a tree
 */
export function calibreFunction(profile: CalibreProfile, lengthMm: number): (s: number) => number {
  switch (profile.kind) {
    case 'constant':
      return () => profile.calibreMm;
    case 'cone':
      return (s) => {
        const x = Math.min(Math.max(s / lengthMm, 0), 1);
        return profile.fromMm + (profile.toMm - profile.fromMm) * x;
      };
    case 'stenosis':
      return (s) => {
        const x = (2 * (s - profile.atMm)) / profile.widthMm;
        const depth = Math.abs(x) >= 1 ? 0 : (1 + Math.cos(Math.PI * x)) / 2;
        return profile.calibreMm - (profile.calibreMm - profile.narrowestMm) * depth;
      };
    case 'funnel':
      return (s) =>
        profile.calibreMm +
        (profile.mouthMm - profile.calibreMm) *
          smoothStep((s - (lengthMm - profile.overMm)) / profile.overMm);
    case 'steps':
      return (s) =>
        profile.atMm.reduce(
          (calibre, at, i) =>
            calibre +
            (profile.calibresMm[i + 1] - profile.calibresMm[i]) * smoothStep((s - at) / profile.overMm + 0.5),
          profile.calibresMm[0],
        );
  }
}
