import type { Case, GasSample } from '../../src/case/case.js';
import type { VesselMeasure } from '../../src/geometry/measure.js';
import type { ClosureInput } from '../../src/physiology/closure-table.js';
import { computeShunt, type ShuntOutcome } from '../../src/physiology/compute-shunt.js';
import type { ShuntInput } from '../../src/physiology/shunt-input.js';
import { loadRules } from '../../src/rules/load-rules.js';

/** The built-in rules. */
export const RULES = loadRules();

/** The shunt by the built-in rules. */
export const shuntBy = (input: ShuntInput): ShuntOutcome => computeShunt(input, RULES);

/** An arterial sample on 100 % oxygen for 20 min at 760 mmHg; whatever is given overrides it. */
export function sampleOf(given: Partial<GasSample>): GasSample {
  return {
    name: 'on-oxygen',
    when: 'before',
    site: 'arterial',
    path: 'gases[0]',
    fio2: 1,
    minutesOnOxygen: 20,
    barometricMmHg: 760,
    pco2MmHg: 40,
    ...given,
  };
}

/** A straight vessel of changing calibre; `calibreAt` in mm from the far end. */
export function vesselOf(
  name: string,
  lengthMm: number,
  calibreAt: number | ((atMm: number) => number),
  role: VesselMeasure['role'] = 'feeder',
  stepMm = 1,
): VesselMeasure {
  const at = typeof calibreAt === 'number' ? () => calibreAt : calibreAt;
  const count = Math.round(lengthMm / stepMm);
  const profile = Array.from({ length: count + 1 }, (_, i) => {
    const atMm = (i * lengthMm) / count;
    const equivalentMm = at(atMm);
    return {
      atMm,
      equivalentMm,
      minMm: equivalentMm,
      maxMm: equivalentMm,
      areaMm2: (Math.PI / 4) * equivalentMm ** 2,
    };
  });
  const calibres = profile.map((s) => s.equivalentMm);
  return {
    name,
    role,
    centrelineMm: [],
    lengthMm,
    lengthIntervalMm: [lengthMm, lengthMm],
    tortuosity: 1,
    calibreMm: {
      min: Math.min(...calibres),
      mean: calibres.reduce((a, b) => a + b, 0) / calibres.length,
      max: Math.max(...calibres),
    },
    profile,
    neck: { atMm: lengthMm, pointMm: [0, 0, lengthMm], calibreMm: at(lengthMm) },
    branches: [],
    calibreSigmaMm: 0.2,
  };
}

/** `6x60 4x60` as feeders A1, A2. */
export function feedersOf(text: string): VesselMeasure[] {
  return text.split(' ').map((part, i) => {
    const [calibre, length] = part.split('x').map(Number);
    return vesselOf(`A${i + 1}`, length, calibre);
  });
}

type ClosureCase = ClosureInput['case'];

export function closureCaseOf(given: Partial<ClosureCase> = {}): ClosureCase {
  return {
    blood: { haemoglobinGDl: 15, haematocritFraction: 0.45 },
    circulation: { cardiacOutputLMin: 6, meanPaPressureMmHg: 16, wedgePressureMmHg: 8 },
    gases: [sampleOf({ po2MmHg: 118 })],
    lesion: { side: 'left', lobe: 'lower', segments: ['S9'] } as Case['lesion'],
    patient: { history: [], hht: {}, spirometry: {} },
    surgery: {},
    ...given,
  };
}
