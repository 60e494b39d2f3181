import { InputFailure } from '../foundation/failure.js';
import type { Vec3 } from '../foundation/vector.js';
import { median } from '../geometry/statistics.js';
import { numberOf, type Rules } from '../rules/rule.js';
import { type GreyVolume, valueAt } from '../volume/ct/grey-volume.js';
import { opacifiedHu, SOFT_HU } from '../witness/opacified.js';
import { type GreyRegion, greyRegion } from '../witness/scan-region.js';
import { BONE, settledPoint } from './courses.js';
import { huText, refuse } from './refusals.js';
import type { SeedEnd } from './vessel.js';

/** Initial value of the lumen, HU: common practice, no source. */
const USUAL_LUMEN_HU = 350;
/** A lumen is brighter than the sac by at most this share of the sac's contrast with soft tissue, or this multiple of the noise. */
const ABOVE_LUMEN = 0.2;
const ABOVE_NOISE = 4;
/** How far a point may be moved to the middle of its vessel, mm. */
const SETTLE_MM = 1.5;

/** The scan around the points, with the values that all later steps depend on. */
export interface Scene {
  volume: GreyVolume;
  region: GreyRegion;
  lumenHu: number;
  noiseHu: number;
  opacifiedHu: number;
  /** Values above this are bone. */
  boneHu: number;
  /** Upper limit for a lumen as bright as the sac; brighter places next to it are bone. */
  brightestHu: number;
}

/** The input: the scan, a point in the far end of each vessel and one in the sac, mm LPS. */
export interface Seeds {
  volume: GreyVolume;
  ends: readonly SeedEnd[];
  sac: Vec3;
}

/** Throws InputFailure (2) if the sac's point is not in an opacified lumen. */
export function sceneAbout({ volume, ends, sac }: Seeds, marginMm: number, rules: Rules): Scene {
  const points = [...ends.map(({ at }) => at), sac];
  const [low, high] = [Math.min, Math.max].map(
    (most) => [0, 1, 2].map((d) => most(...points.map((p) => p[d]))) as Vec3,
  );
  const region = greyRegion(volume, low, high, marginMm);
  const middle = settledPoint(volume, sac, SETTLE_MM, USUAL_LUMEN_HU)?.at ?? sac;
  const values: number[] = [];
  for (let i = 0; i < 343; i++) {
    const [dx, dy, dz] = [i % 7, Math.floor(i / 7) % 7, Math.floor(i / 49)].map((x) => (x - 3) * 0.5);
    const value = valueAt(volume, middle[0] + dx, middle[1] + dy, middle[2] + dz);
    if (!Number.isNaN(value)) values.push(value);
  }
  const lumenHu = median(values);
  if (!(lumenHu >= numberOf(rules, 'proposal-lumen'))) {
    throw new InputFailure(2, `sac: its point is not in an opacified lumen: ${huText(volume, sac)}.`);
  }
  const noiseHu = 1.4826 * median(values.map((v) => Math.abs(v - lumenHu)));
  const level = opacifiedHu({ lumenHu, noiseHu });
  const boneHu = SOFT_HU + BONE * (lumenHu - SOFT_HU);
  const brightestHu = lumenHu + Math.max(ABOVE_LUMEN * (lumenHu - SOFT_HU), ABOVE_NOISE * noiseHu);
  return { volume, region, lumenHu, noiseHu, opacifiedHu: level, boneHu, brightestHu };
}

/** The points moved to the middle of their vessels. Throws InputFailure (2) with those that are not in an opacified vessel. */
export function settledEnds(scene: Scene, ends: readonly SeedEnd[], rules: Rules): { at: Vec3 }[] {
  const { lumenHu, volume } = scene;
  const least = numberOf(rules, 'proposal-opacified');
  const found = ends.map(({ at }) => settledPoint(volume, at, SETTLE_MM, lumenHu));
  refuse(
    found.flatMap((settled, e) =>
      settled && settled.like >= least
        ? []
        : [`${ends[e].name}: its point is not in an opacified vessel: ${huText(volume, ends[e].at)}.`],
    ),
  );
  return found.map((settled) => settled!);
}
