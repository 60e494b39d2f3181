import { fixed } from '../foundation/number-text.js';
import { type Candidate, judgeShelf, piecesOf, trim } from './candidates.js';
import { oversizeFraction } from './device-window.js';
import type { FeederToClose, FitContext } from './feeder.js';

/**
 * Says where the calibre's 95 % interval makes the choice change or leave the window, with the sizes at both ends;
 * undefined where the same device serves the whole interval, or where there is no interval.
 */
export function borderline(
  feeder: FeederToClose & { calibreMm: number },
  context: FitContext,
): string | undefined {
  const interval = feeder.calibreIntervalMm;
  if (interval === undefined || interval[0] <= 0) return undefined;
  const measured = choiceAt(feeder, feeder.calibreMm, context);
  const ends = interval.map((calibre) => ({ calibre, choice: choiceAt(feeder, calibre, context) }));
  const same = ends.every(({ choice }) => choice?.device.code === measured?.device.code);
  if (same) return undefined;
  const at = (calibre: number, choice: Candidate | undefined): string =>
    choice === undefined
      ? `at ${fixed(calibre, 2)} mm none`
      : `at ${fixed(calibre, 2)} mm ${choice.device.code} (${trim(choice.device.diameterMm)} mm, ${fixed(100 * oversizeFraction(choice.device.diameterMm, calibre), 1)} % over)`;
  const all = [
    at(ends[0].calibre, ends[0].choice),
    at(feeder.calibreMm, measured),
    at(ends[1].calibre, ends[1].choice),
  ];
  return `The choice changes inside the calibre's 95 % interval: ${all.join('; ')}. Measure again before opening a device.`;
}

/** The device one would take at a calibre were the feeder alone: kind, then stock, then quality. */
function choiceAt(feeder: FeederToClose, calibreMm: number, context: FitContext): Candidate | undefined {
  const { fitting } = judgeShelf({ ...feeder, calibreMm }, context);
  const stocked = (candidate: Candidate): boolean => (candidate.device.inStock ?? 0) >= piecesOf(candidate);
  const obtainable = fitting.find(
    (candidate) => stocked(candidate) || candidate.device.leadTimeDays !== undefined,
  );
  const kind = (obtainable ?? fitting[0])?.kindRank;
  return fitting.find((candidate) => candidate.kindRank === kind && stocked(candidate)) ?? fitting[0];
}
