import type { Vec3 } from '../../src/foundation/vector.js';
import { ctScene, type SceneOptions } from '../../src/phantoms/ct-scene.js';
import type { LesionPlan } from '../../src/phantoms/lesion.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import type { SliceStack } from '../../src/volume/ct/slice-stack.js';

export type { SceneOptions } from '../../src/phantoms/ct-scene.js';

/** A lesion as a scanner would show it, as the series reader returns it. LPS. */
export function syntheticCt(lesion: LesionPlan, options: SceneOptions = {}): GreyVolume {
  const { originMm, spacingMm, size, values } = ctScene(lesion, options);
  return { values, stack: axialStack(originMm, spacingMm, size) };
}

/** Even slices along z, rows along x, first voxel at `origin`. */
export function axialStack(origin: Vec3, spacing: Vec3, [columns, rows, slices]: Vec3): SliceStack {
  const origins = new Float64Array(3 * slices);
  const heights = new Float64Array(slices);
  for (let k = 0; k < slices; k++) {
    heights[k] = origin[2] + k * spacing[2];
    origins.set([origin[0], origin[1], heights[k]], 3 * k);
  }
  return {
    columns,
    rows,
    slices,
    columnStep: [spacing[0], 0, 0],
    rowStep: [0, spacing[1], 0],
    normal: [0, 0, 1],
    origins,
    heights,
    isGap: new Uint8Array(slices),
  };
}
