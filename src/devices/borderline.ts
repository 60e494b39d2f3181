import type { Device } from '../result/result.generated.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { Mm } from '../foundation/unit-types.js';
import { type Candidate, judgeShelf, piecesOf, trim } from './candidates.js';
import { oversizeFraction } from './device-window.js';
import type { FeederToClose, FitContext } from './feeder.js';

/**
 * Describes how the choice changes, or leaves the window, within the calibre's 95 % interval, with the sizes at both ends, or at the
 * calibre in the scan; undefined if the same device fits all of them.
 */
export function borderline(
  feeder: FeederToClose & { calibreMm: Mm },
  context: FitContext,
): string | undefined {
  return [acrossInterval(feeder, context), byImage(feeder, context)].filter(Boolean).join(' ') || undefined;
}

/** The choice by the calibre in the scan, if it is different. */
function byImage(feeder: FeederToClose & { calibreMm: Mm }, context: FitContext): string | undefined {
  const image = feeder.imageCalibreMm;
  if (image === undefined || image <= 0) return undefined;
  const [drawn, shown] = [feeder.calibreMm, image].map((calibre) => choiceAt(feeder, calibre, context));
  if (drawn?.device.code === shown?.device.code) return undefined;
  return `The scan shows another calibre than the surface, and the choice differs: ${at(feeder.calibreMm, drawn)} by the surface; ${at(image, shown)} by the scan. Correct the segmentation, or measure on the angiogram, before opening a device.`;
}

/** The device by the calibre in the scan, in the form of the result; undefined if scan and surface agree. */
export function choiceByImage(feeder: FeederToClose, context: FitContext): Device['by_image'] {
  const image = feeder.imageCalibreMm;
  if (image === undefined || image <= 0) return undefined;
  const choice = choiceAt(feeder, image, context);
  return {
    calibre_mm: image,
    ...(choice && {
      code: choice.device.code,
      diameter_mm: choice.device.diameterMm,
      oversize_percent: rounded(100 * oversizeFraction(choice.device.diameterMm, image), 2),
    }),
  };
}

const at = (calibre: number, choice: Candidate | undefined): string =>
  choice === undefined
    ? `at ${fixed(calibre, 2)} mm none`
    : `at ${fixed(calibre, 2)} mm ${choice.device.code} (${trim(choice.device.diameterMm)} mm, ${fixed(100 * oversizeFraction(choice.device.diameterMm, calibre), 1)} % over)`;

/** Whether the choice changes within the calibre's interval. */
function acrossInterval(feeder: FeederToClose & { calibreMm: Mm }, context: FitContext): string | undefined {
  const interval = feeder.calibreIntervalMm;
  if (interval === undefined || interval[0] <= 0) return undefined;
  const measured = choiceAt(feeder, feeder.calibreMm, context);
  const ends = interval.map((calibre) => ({ calibre, choice: choiceAt(feeder, calibre, context) }));
  const same = ends.every(({ choice }) => choice?.device.code === measured?.device.code);
  if (same) return undefined;
  const all = [
    at(ends[0].calibre, ends[0].choice),
    at(feeder.calibreMm, measured),
    at(ends[1].calibre, ends[1].choice),
  ];
  return `The choice changes within the calibre's 95 % interval: ${all.join('; ')}.`;
}

/** The device chosen at a calibre if this were the only feeder: kind, then stock, then quality. */
function choiceAt(feeder: FeederToClose, calibreMm: Mm, context: FitContext): Candidate | undefined {
  const { fitting } = judgeShelf({ ...feeder, calibreMm }, context);
  const stocked = (candidate: Candidate): boolean => (candidate.device.inStock ?? 0) >= piecesOf(candidate);
  const obtainable = fitting.find(
    (candidate) => stocked(candidate) || candidate.device.leadTimeDays !== undefined,
  );
  const kind = (obtainable ?? fitting[0])?.kindRank;
  return (
    fitting.find((candidate) => candidate.kindRank === kind && stocked(candidate)) ?? obtainable ?? fitting[0]
  );
}
