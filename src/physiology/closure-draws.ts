import { CONSTANTS } from '../reference/constants.js';
import type { Shunt } from '../result/result.generated.js';
import type { ClosureCirculation } from './closure-circulation.js';
import { modelAt, type SaturationModel } from './closure-saturation.js';
import type { ClosureDraw } from './closure-state.js';
import type { FeederShares } from './feeder-shares.js';
import { type RandomStream, seededRandom } from './seeded-random.js';
import type { ShuntDraw } from './shunt-interval.js';

const DRAWS = 2000;
const SEED = 20080162;

const c = CONSTANTS;

/** The input of a predicted closure. */
export interface ClosureBasis {
  feeders: FeederShares;
  shunt: Pick<Shunt, 'fraction' | 'interval' | 'equation_fraction'>;
  /** The draws behind the shunt; default: its interval, with the blood drawn independently. */
  shuntDraws?: readonly ShuntDraw[];
  circulation: Pick<ClosureCirculation, 'fitted' | 'spread'>;
  /** Undefined without haemoglobin. */
  saturation?: SaturationModel;
}

/**
 * Draws of all uncertain inputs of a closure, the same on every run and shared by all sets of feeders: the shunt with the haemoglobin,
 * PaCO2, pressure and arterio-venous difference of its draw; each feeder's calibre within scan
 * resolution; the law of flow anywhere between Poiseuille and Murray; sac and drains from no resistance to their Poiseuille
 * resistance; the physiological shunt of normal subjects; mean PA pressure, wedge pressure and output with the error of their
 * measurement, or the spread of normal values.
 */
export function closureDraws(basis: ClosureBasis): ClosureDraw[] {
  const { feeders, saturation } = basis;
  const { fitted, spread } = basis.circulation;
  const random = seededRandom(SEED);
  const bloodOf = basis.shuntDraws?.length
    ? jointBlood(basis, basis.shuntDraws)
    : separateBlood(basis, random);
  return Array.from({ length: DRAWS }, (_, i) => {
    const blood = bloodOf(i);
    const towardsMurray = random.uniform();
    const raw = feeders.shares.map((feeder) => {
      const calibre = Math.max(0.1, 1 + feeder.calibreError * random.normal());
      const poiseuille = Math.log(feeder.poiseuille) + 4 * Math.log(calibre);
      const murray = Math.log(feeder.murray) + 3 * Math.log(calibre);
      return Math.exp((1 - towardsMurray) * poiseuille + towardsMurray * murray);
    });
    const sum = raw.reduce((a, b) => a + b, 0);
    const wedgeMmHg = Math.max(0, fitted.wedgeMmHg + spread.wedgeSdMmHg * random.normal());
    return {
      shuntFraction: Math.min(0.99, Math.max(0, blood.fraction)),
      shares: raw.map((value) => value / sum),
      seriesToFeeders: feeders.seriesToFeeders * random.uniform(),
      physiological: c.physiologicalShuntFraction.value + c.physiologicalShuntSd.value * random.normal(),
      besideLesion: random.uniform(),
      wedgeMmHg,
      meanPaMmHg: Math.max(wedgeMmHg, fitted.meanPaMmHg + spread.meanPaSdMmHg * random.normal()),
      cardiacOutputLMin:
        fitted.cardiacOutputLMin * Math.max(0.1, 1 + spread.outputSdFraction * random.normal()),
      saturation: saturation && { ...saturation, ...blood.model },
    };
  });
}

interface BloodDraw {
  fraction: number;
  model: Partial<SaturationModel>;
}

/** Shunt and blood as drawn together, so that correlated errors cancel. */
function jointBlood(basis: ClosureBasis, draws: readonly ShuntDraw[]): (i: number) => BloodDraw {
  const lift = -Math.min(0, basis.shunt.equation_fraction ?? 0);
  return (i) => {
    const { fraction, numbers, avDifferenceMlDl } = draws[i % draws.length];
    const { haemoglobinGDl, pco2MmHg, barometricMmHg } = numbers;
    return {
      fraction: fraction + lift,
      model: {
        ...modelAt({ barometricMmHg, paCO2MmHg: pco2MmHg }),
        avDifferenceMlDl,
        ...(haemoglobinGDl !== undefined && { haemoglobinGDl }),
      },
    };
  };
}

/** Shunt within its interval, and blood around its values, independently. */
function separateBlood({ shunt, saturation }: ClosureBasis, random: RandomStream): (i: number) => BloodDraw {
  const { fraction = 0, interval = [fraction, fraction] } = shunt;
  const below = Math.max(0, fraction - interval[0]) / 1.96;
  const above = Math.max(0, interval[1] - fraction) / 1.96;
  return () => {
    const away = random.normal();
    const moved = { fraction: fraction + away * (away < 0 ? below : above), model: {} };
    if (saturation === undefined) return moved;
    const { barometricMmHg, paCO2MmHg, haemoglobinGDl, avDifferenceMlDl } = saturation;
    return {
      ...moved,
      model: {
        ...modelAt({ barometricMmHg, paCO2MmHg: paCO2MmHg + c.pco2SdMmHg.value * random.normal() }),
        haemoglobinGDl: haemoglobinGDl * (1 + c.haemoglobinSdFraction.value * random.normal()),
        avDifferenceMlDl: Math.max(0.5, avDifferenceMlDl + c.avDifferenceSdMlDl.value * random.normal()),
      },
    };
  };
}
