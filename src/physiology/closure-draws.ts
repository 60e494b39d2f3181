import { CONSTANTS } from '../reference/constants.js';
import type { ClosureDraw } from './closure-state.js';
import type { FeederShares } from './feeder-shares.js';
import { seededRandom } from './seeded-random.js';

const DRAWS = 2000;
const SEED = 20080162;

/**
 * Draws of everything a closure is uncertain about, the same on every run and shared by all sets of feeders:
 * the shunt within its interval; each feeder's calibre within scan resolution; the law of flow anywhere between Poiseuille and
 * Murray; sac and drains from no resistance to their Poiseuille resistance; the physiological shunt of normal subjects.
 */
export function closureDraws(
  feeders: FeederShares,
  shuntFraction: number,
  shuntInterval: readonly [number, number],
): ClosureDraw[] {
  const random = seededRandom(SEED);
  const below = Math.max(0, shuntFraction - shuntInterval[0]) / 1.96;
  const above = Math.max(0, shuntInterval[1] - shuntFraction) / 1.96;
  return Array.from({ length: DRAWS }, () => {
    const away = random.normal();
    const shunt = shuntFraction + away * (away < 0 ? below : above);
    const towardsMurray = random.uniform();
    const raw = feeders.shares.map((feeder) => {
      const calibre = Math.max(0.1, 1 + feeder.calibreError * random.normal());
      const poiseuille = Math.log(feeder.poiseuille) + 4 * Math.log(calibre);
      const murray = Math.log(feeder.murray) + 3 * Math.log(calibre);
      return Math.exp((1 - towardsMurray) * poiseuille + towardsMurray * murray);
    });
    const sum = raw.reduce((a, b) => a + b, 0);
    return {
      shuntFraction: Math.min(0.99, Math.max(0, shunt)),
      shares: raw.map((value) => value / sum),
      seriesToFeeders: feeders.seriesToFeeders * random.uniform(),
      physiological:
        CONSTANTS.physiologicalShuntFraction.value + CONSTANTS.physiologicalShuntSd.value * random.normal(),
      besideLesion: random.uniform(),
    };
  });
}
