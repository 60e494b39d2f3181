import { type LumenWays, lengthOfWay, tooLong, type Way } from '../lumen.js';

/**
 * Why vessels must not be measured along their paths, by name: the path is longer than `ratio` times the shortest one through the lumen,
 * which is centred in the same way.
 */
export function longWays(
  { lumen, sac }: LumenWays,
  waysByName: ReadonlyMap<string, Way>,
  ratio: number,
): Map<string, string> {
  const shortest = lumen.shortestCentred(sac, [...waysByName.values()]);
  const faults = new Map<string, string>();
  [...waysByName].forEach(([name, way], i) => {
    const least = shortest[i];
    const fault = least && tooLong(lengthOfWay(way), lengthOfWay(least), ratio);
    if (fault) faults.set(name, fault);
  });
  return faults;
}
