import type { Vec3 } from '../../foundation/vector.js';
import type { Result } from '../../result/result.generated.js';
import { croppedTo } from '../../volume/ct/crop.js';
import type { GreyVolume } from '../../volume/ct/grey-volume.js';
import { lesionBox } from '../../witness/scan-pictures.js';
import type { Structure } from '../../geometry/structure.js';

/** Margin around the lesion within which every picture ends, mm. */
const ABOUT_MM = 22;

/** The part of a scan that pictures of the lesion need, so that the rest can be released. Undefined if no surface is in the scan. */
export function pictureCrop(
  structures: readonly Structure[],
  volume: GreyVolume,
  frame: NonNullable<Result['frame_axes']>,
): GreyVolume | undefined {
  const box = lesionBox(structures, frame);
  if (!box) return undefined;
  const wider = (p: Vec3, by: number): Vec3 => [p[0] + by, p[1] + by, p[2] + by];
  return croppedTo(volume, wider(box.low, -ABOUT_MM), wider(box.high, ABOUT_MM));
}
