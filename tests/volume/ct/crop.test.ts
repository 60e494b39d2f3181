import { describe, expect, it } from 'vitest';
import { cross, normalize, type Vec3 } from '../../../src/foundation/vector.js';
import { croppedTo } from '../../../src/volume/ct/crop.js';
import { type GreyVolume, valueAt } from '../../../src/volume/ct/grey-volume.js';

/** A stack along any axes, with slices that each start slightly shifted, as under a tilted gantry. */
function stackAlong(along: Vec3, down: Vec3, aside: number): GreyVolume {
  const [columns, rows, slices] = [30, 26, 22];
  const spacing = [0.8, 0.9, 1.1];
  const normal = cross(along, down);
  const origins = new Float64Array(3 * slices);
  const heights = new Float64Array(slices);
  for (let k = 0; k < slices; k++)
    for (let d = 0; d < 3; d++) {
      origins[3 * k + d] = [10, -20, 5][d] + k * (spacing[2] * normal[d] + aside * down[d]);
      heights[k] += origins[3 * k + d] * normal[d];
    }
  const values = Int16Array.from({ length: columns * rows * slices }, (_, n) => ((n * 7919) % 2003) - 1000);
  const isGap = new Uint8Array(slices);
  isGap[12] = 1;
  return {
    values,
    stack: {
      columns,
      rows,
      slices,
      columnStep: along.map((x) => x * spacing[0]) as Vec3,
      rowStep: down.map((x) => x * spacing[1]) as Vec3,
      normal,
      origins,
      heights,
      isGap,
    },
  };
}

const tilt = normalize([1, 0.3, -0.2]);
const across = normalize(cross([0, 0.2, 1], tilt));

describe.each([
  ['axial', [1, 0, 0], [0, 1, 0], 0],
  ['tilted', [1, 0, 0], [0, 1, 0], 0.3],
  ['oblique', tilt, across, 0],
] satisfies [string, Vec3, Vec3, number][])(
  'the part of a volume around a box, %s',
  (_, along, down, aside) => {
    const volume = stackAlong(along, down, aside);
    const middle = [0, 1, 2].map(
      (d) =>
        volume.stack.origins[3 * 11 + d] + 14 * volume.stack.columnStep[d] + 12 * volume.stack.rowStep[d],
    );
    const box = (half: number): [Vec3, Vec3] => [
      middle.map((x) => x - half) as Vec3,
      middle.map((x) => x + half) as Vec3,
    ];

    it('has the values of the whole at every point of the box, and its gaps', () => {
      const crop = croppedTo(volume, ...box(4))!;
      expect(crop.values.length).toBeLessThan(volume.values.length / 3);
      let gaps = 0;
      for (let n = 0; n < 2000; n++) {
        const p = middle.map((x, d) => x + 4 * Math.sin(n * (1.7 + d))) as Vec3;
        const value = valueAt(crop, ...p);
        const whole = valueAt(volume, ...p);
        if (Number.isNaN(value)) gaps++;
        if (Number.isNaN(value) || Number.isNaN(whole)) expect(value).toBe(whole);
        else expect(value).toBeCloseTo(whole, 6);
      }
      expect(gaps).toBeGreaterThan(20);
      expect(gaps).toBeLessThan(1000);
    });

    it('ends where the volume ends, and is empty outside it', () => {
      expect(croppedTo(volume, ...box(500))).toEqual(volume);
      const [low, high] = box(3).map((p) => p.map((x) => x + 300) as Vec3);
      expect(croppedTo(volume, low, high)).toBeUndefined();
    });
  },
);
