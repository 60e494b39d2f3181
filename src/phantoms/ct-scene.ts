import type { Vec3 } from '../foundation/vector.js';
import { type Body, sacBody, tubeBody } from './field.js';
import { type LesionPlan, vesselsOf } from './lesion.js';
import { randomStream } from './random.js';

/** A CT volume on a grid along the patient's axes: whole Hounsfield values, x fastest, then y, then z. */
export interface CtScene {
  /** Centre of the first voxel, mm LPS. */
  originMm: Vec3;
  spacingMm: Vec3;
  size: [number, number, number];
  values: Int16Array;
}

/** Hounsfield values of a scene: usual ones of a contrast-enhanced chest. */
const HU = { lumen: 350, lung: -820, soft: 50, bone: 700, air: -1000 } as const;

export interface SceneOptions {
  spacing?: Vec3;
  /** Margin of lung around the lesion, mm. */
  marginMm?: number;
  /** Width of the blur at half maximum, mm. */
  blurMm?: number;
  /** Standard deviation of the noise, HU. */
  noiseHu?: number;
  seed?: number;
  /** Soft tissue from this x on, with a rib in it. */
  chestWallX?: number;
  /** Straight vessels that pass by: a point, a direction and a radius. */
  passing?: readonly { at: Vec3; along: Vec3; radiusMm: number }[];
  lumenHu?: number;
  /** Balls of thrombus: soft tissue without contrast agent. */
  thrombus?: readonly { at: Vec3; radiusMm: number }[];
  /** An airway that passes by: its inner radius, with a wall of soft tissue around it. */
  airway?: { at: Vec3; along: Vec3; radiusMm: number; wallMm: number };
}

/** A lesion as a scanner would show it: partial volume, blur, noise; surrounded by lung, chest wall, rib and passing vessels. LPS. */
export function ctScene(lesion: LesionPlan, options: SceneOptions = {}): CtScene {
  const { spacing = [0.8, 0.8, 0.9], marginMm = 8, blurMm = 0.9, noiseHu = 15, seed = 1 } = options;
  const vessels = [...vesselsOf(lesion).values()];
  const bodies: Body[] = [
    sacBody(lesion.sac),
    // the vessel continues in the scan where the surface is cut
    ...vessels.map(({ axis, calibreAt }) => tubeBody(axis, calibreAt, 0).past(calibreAt(0) + 1)),
  ];
  const { low, high } = boxOf(lesion, bodies[0]);
  const origin = low.map((x) => x - marginMm) as Vec3;
  const [columns, rows, slices] = high.map((x, k) => Math.ceil((x + marginMm - origin[k]) / spacing[k]) + 1);
  const grey = new Float32Array(columns * rows * slices);
  const reach = 0.5 * Math.hypot(...spacing);
  const near: Body[] = [];
  const nearestTo = (p: Vec3, among: readonly Body[]): number => {
    let nearest = Number.POSITIVE_INFINITY;
    for (const body of among) nearest = Math.min(nearest, body.value(p));
    for (const { at, along, radiusMm } of options.passing ?? [])
      nearest = Math.min(nearest, toLine(p, at, along) - radiusMm);
    return nearest;
  };
  let n = 0;
  for (let k = 0; k < slices; k++)
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++, n++) {
        const p: Vec3 = [origin[0] + i * spacing[0], origin[1] + j * spacing[1], origin[2] + k * spacing[2]];
        near.length = 0;
        for (const body of bodies) if (!body.isBeyond(p, reach)) near.push(body);
        const middle = nearestTo(p, near);
        const share =
          Math.abs(middle) > reach ? (middle < 0 ? 1 : 0) : partInside(p, spacing, (q) => nearestTo(q, near));
        const outside = outsideAt(p, options);
        const isClot = options.thrombus?.some(
          ({ at, radiusMm }) => Math.hypot(p[0] - at[0], p[1] - at[1], p[2] - at[2]) < radiusMm,
        );
        const inside = isClot ? HU.soft : (options.lumenHu ?? HU.lumen);
        grey[n] = outside + share * (inside - outside);
      }
  blur(grey, [columns, rows, slices], spacing.map((s) => blurMm / 2.355 / s) as Vec3);
  const random = randomStream(seed);
  const values = Int16Array.from(grey, (value) => Math.round(value + noiseHu * gauss(random)));
  return { originMm: origin, spacingMm: spacing, size: [columns, rows, slices], values };
}

const PARTS = [-1 / 4, 1 / 4] as const;

/** The share of a voxel that is inside, from eight parts, each cut by its own plane. */
function partInside(p: Vec3, spacing: Vec3, nearest: (q: Vec3) => number): number {
  const half = Math.max(...spacing) / 4;
  let sum = 0;
  for (const x of PARTS)
    for (const y of PARTS)
      for (const z of PARTS) {
        const q: Vec3 = [p[0] + x * spacing[0], p[1] + y * spacing[1], p[2] + z * spacing[2]];
        sum += Math.max(0, Math.min(1, 0.5 - nearest(q) / (2 * half)));
      }
  return sum / 8;
}

function outsideAt(p: Vec3, { airway, chestWallX }: SceneOptions): number {
  if (airway) {
    const away = toLine(p, airway.at, airway.along) - airway.radiusMm;
    if (away < 0) return HU.air;
    if (away < airway.wallMm) return HU.soft;
  }
  const [x, , z] = p;
  if (chestWallX === undefined || x < chestWallX) return HU.lung;
  const rib = (x - chestWallX - 8) ** 2 + ((((z % 30) + 30) % 30) - 15) ** 2;
  return rib < 25 ? HU.bone : HU.soft;
}

function toLine(p: Vec3, at: Vec3, along: Vec3): number {
  const d = p.map((x, k) => x - at[k]);
  const length = Math.hypot(...along);
  const s = d.reduce((sum, x, k) => sum + (x * along[k]) / length, 0);
  return Math.sqrt(Math.max(0, d.reduce((sum, x) => sum + x * x, 0) - s * s));
}

function boxOf(lesion: LesionPlan, sac: Body): { low: Vec3; high: Vec3 } {
  const low: Vec3 = [...lesion.sac.centreMm];
  const high: Vec3 = [...lesion.sac.centreMm];
  const take = (p: readonly number[], r: number): void =>
    p.forEach((x, k) => {
      low[k] = Math.min(low[k], x - r);
      high[k] = Math.max(high[k], x + r);
    });
  let reach = 1;
  const c = lesion.sac.centreMm;
  const isInside = (r: number): boolean =>
    Array.from({ length: 200 }, (_, i) => {
      const z = 1 - (2 * i + 1) / 200;
      const a = i * 2.399963;
      const flat = Math.sqrt(1 - z * z);
      return sac.value([c[0] + r * flat * Math.cos(a), c[1] + r * flat * Math.sin(a), c[2] + r * z]) < 0;
    }).some(Boolean);
  while (isInside(reach)) reach++;
  take(c, reach);
  for (const { axis, calibreAt } of vesselsOf(lesion).values())
    for (let s = 0; s <= axis.lengthMm; s += 2) take(axis.pointAt(s), calibreAt(s) / 2);
  return { low, high };
}

/** Gaussian blur along each axis; sigma in voxels. */
function blur(grey: Float32Array, sizes: readonly number[], sigma: Vec3): void {
  const strides = [1, sizes[0], sizes[0] * sizes[1]];
  for (let axis = 0; axis < 3; axis++) {
    const reach = Math.ceil(3 * sigma[axis]);
    const kernel = Array.from({ length: 2 * reach + 1 }, (_, i) =>
      Math.exp(-((i - reach) ** 2) / (2 * sigma[axis] ** 2)),
    );
    const total = kernel.reduce((a, b) => a + b, 0);
    const line = new Float64Array(sizes[axis]);
    for (let start = 0; start < grey.length; start++) {
      if (Math.floor(start / strides[axis]) % sizes[axis] !== 0) continue;
      for (let i = 0; i < sizes[axis]; i++) line[i] = grey[start + i * strides[axis]];
      for (let i = 0; i < sizes[axis]; i++) {
        let sum = 0;
        for (let d = -reach; d <= reach; d++)
          sum += kernel[d + reach] * line[Math.max(0, Math.min(sizes[axis] - 1, i + d))];
        grey[start + i * strides[axis]] = sum / total;
      }
    }
  }
}

const gauss = (random: { next(): number }): number =>
  Math.sqrt(-2 * Math.log(1 - random.next())) * Math.cos(2 * Math.PI * random.next());
