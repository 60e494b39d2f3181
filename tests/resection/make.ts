import type { Case } from '../../src/case/case.js';
import type { BranchOpening, LandingZone, LesionMeasure, VesselMeasure } from '../../src/geometry/measure.js';

/** A case with only what is given; nested objects replace the empty ones. */
export function makeCase(more: Partial<Case> = {}): Case {
  return {
    id: 'made-up',
    purpose: 'demo',
    scan: {},
    patient: { history: [], hht: {}, spirometry: {} },
    blood: {},
    gases: [],
    circulation: {},
    lesion: { side: 'left', lobe: 'lower', segments: [] },
    planned: { approach: 'auto' },
    surgery: {},
    atHand: {},
    print: { scale: 1, hollow: false },
    expected: [],
    locate: (path) => path,
    ...more,
  };
}

export function landing(more: Partial<LandingZone> = {}): LandingZone {
  return {
    fromMm: 22,
    toMm: 40,
    lengthMm: 18,
    calibreMm: 6.2,
    calibreIntervalMm: [5.8, 6.6],
    largestWidthMm: 6.4,
    taperPercent: 8,
    toSacMm: 4,
    centreMm: [0, 0, 0],
    direction: [0, 0, 1],
    ...more,
  };
}

export function opening(name: string, fromMm: number, toMm: number): BranchOpening {
  return { name, atMm: (fromMm + toMm) / 2, fromMm, toMm, calibreMm: 3 };
}

export function vessel(name: string, more: Partial<VesselMeasure> = {}): VesselMeasure {
  return {
    name,
    role: 'feeder',
    centrelineMm: [],
    lengthMm: 44,
    lengthIntervalMm: [43, 45],
    tortuosity: 1.1,
    calibreMm: { min: 5.9, mean: 6.2, max: 6.6 },
    profile: [],
    neck: { atMm: 44, pointMm: [0, 0, 44], calibreMm: 6.4 },
    branches: [],
    landing: landing(),
    calibreSigmaMm: 0.2,
    ...more,
  };
}

export function lesionOf(vessels: VesselMeasure[]): LesionMeasure {
  return {
    vessels,
    neighbours: [],
    sac: {
      volumeMl: 6.1,
      volumeIntervalMl: [5.8, 6.4],
      surfaceCm2: 17,
      longestMm: 27,
      longestEndsMm: [
        [0, 0, 0],
        [27, 0, 0],
      ],
      axesMm: [26, 22, 20],
      centreMm: [0, 0, 0],
    },
  };
}
