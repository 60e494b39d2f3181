import { InputFailure } from '../foundation/failure.js';
import { fixed } from '../foundation/number-text.js';
import { distance, dot, normalize, scale, subtract, add, type Vec3 } from '../foundation/vector.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { type GreyVolume, valueAt, voxelMm } from '../volume/ct/grey-volume.js';
import { type EvenGrid, levelSurface } from './level-surface.js';

/** A point inside the far end of a vessel, mm LPS of the series. */
export interface SeedEnd {
  name: string;
  role: 'feeder' | 'drain' | 'branch';
  /** A branch: the vessel it leaves. */
  of?: string;
  at: Vec3;
}

export interface ProposalInput {
  volume: GreyVolume;
  ends: readonly SeedEnd[];
  /** A point inside the sac, mm LPS. */
  sac: Vec3;
  /** Called with the share that is done, 0 to 1, and what comes next. */
  onProgress?: (share: number, what: string) => void;
}

/** Why a stretch of the surface is unsure. */
export type UnsureKind = 'directions-disagree' | 'low-contrast' | 'neighbour';

export interface UnsureStretch {
  kind: UnsureKind;
  /** The vessel's name, or `sac`. */
  near: string;
  atMm: Vec3;
  lengthMm: number;
  /** Of the area of the whole surface, 0 to 1. */
  share: number;
}

/** A surface of the whole lesion as the scan shows it; never more than a proposal until a reader has confirmed it. */
export interface Proposal {
  /** Closed, welded, outward, mm LPS; a flat cap across each vessel, at its point or up to 8 mm beyond. */
  mesh: TriangleMesh;
  /** The far ends: a place on the axis inside the cap, calibre and grey values there. */
  endsMm: { name: string; at: Vec3; calibreMm: number; lumenHu: number; levelHu: number }[];
  /** What each voxel belongs to: 0 nothing, 1 sac, 2 and up the vessels in the order of the ends; x fastest. */
  labels: {
    size: [number, number, number];
    originMm: Vec3;
    /** Steps along the three axes, mm. */
    directions: [Vec3, Vec3, Vec3];
    values: Uint8Array;
  };
  unsure: UnsureStretch[];
  /** Share of the surface's area that is unsure, 0 to 1. */
  unsureShare: number;
  /** Vessels that touch the lesion and were parted from it. */
  touching: { at: Vec3; of: string; contactMm: number }[];
  /** The part of the sac without contrast agent, offered apart. */
  thrombus?: { mesh: TriangleMesh; volumeMl: number; at: Vec3 };
  /** What was done, step by step, with its numbers. */
  report: { stage: string; text: string }[];
}

/**
 * Makes one surface of the lesion from a scan, from a point in the far end of each vessel and one in the sac.
 * Throws InputFailure (2) that names each point which lies in no opacified vessel, with the grey value found there.
 */
export function proposeSurface({ volume, ends, sac, onProgress }: ProposalInput): Proposal {
  onProgress?.(0, 'reading the scan about the points');
  const grid = gridAbout([...ends.map(({ at }) => at), sac], volume);
  const [nx, ny, nz] = grid.size;
  const grey = new Float32Array(nx * ny * nz);
  for (let k = 0, n = 0; k < nz; k++)
    for (let j = 0; j < ny; j++)
      for (let i = 0; i < nx; i++, n++) {
        const [x, y, z] = [i, j, k].map((s, d) => grid.originMm[d] + s * grid.stepMm);
        const value = valueAt(volume, x, y, z);
        grey[n] = Number.isNaN(value) ? -1000 : value;
      }
  const placeOf = (p: Vec3): number => {
    const [i, j, k] = p.map((x, d) => Math.round((x - grid.originMm[d]) / grid.stepMm));
    return (k * ny + j) * nx + i;
  };
  const lumenHu = grey[placeOf(sac)];
  const level = (lumenHu - 820) / 2;
  const problems = [...ends.map(({ name, at }) => ({ name, at })), { name: 'sac', at: sac }].flatMap(
    ({ name, at }) => {
      const value = grey[placeOf(at)];
      return value >= 120
        ? []
        : [`${name}: the point lies in no opacified vessel: ${fixed(value, 0)} HU were found there.`];
    },
  );
  if (problems.length > 0) throw new InputFailure(2, problems);
  onProgress?.(0.3, 'growing the lumen');
  const field = new Float32Array(grey.length).fill(1);
  const planes = ends.map(({ at }) => ({ at, inwards: normalize(subtract(sac, at)) }));
  const isCut = (p: Vec3): boolean =>
    planes.some(({ at, inwards }) => dot(subtract(p, at), inwards) < -1 && distance(p, at) < 15);
  const at = (n: number): Vec3 =>
    [n % nx, Math.floor(n / nx) % ny, Math.floor(n / (nx * ny))].map(
      (s, d) => grid.originMm[d] + s * grid.stepMm,
    ) as Vec3;
  const seen = new Uint8Array(grey.length);
  const stack = [placeOf(sac)];
  seen[stack[0]] = 1;
  while (stack.length > 0) {
    const n = stack.pop()!;
    field[n] = (level - grey[n]) / 1000;
    if (grey[n] < level) continue;
    const [i, j] = [n % nx, Math.floor(n / nx) % ny];
    const k = Math.floor(n / (nx * ny));
    if (i < 1 || j < 1 || k < 1 || i > nx - 2 || j > ny - 2 || k > nz - 2 || isCut(at(n))) {
      field[n] = 0.01;
      continue;
    }
    for (const step of [1, -1, nx, -nx, nx * ny, -nx * ny])
      if (seen[n + step] === 0) {
        seen[n + step] = 1;
        stack.push(n + step);
      }
  }
  const values = Uint8Array.from(field, (v) => (v < 0 ? 1 : 0));
  onProgress?.(1, 'done');
  const h = grid.stepMm;
  return {
    mesh: levelSurface(grid, field),
    endsMm: planes.map(({ at: point, inwards }, e) => ({
      name: ends[e].name,
      at: add(point, scale(inwards, 0)),
      calibreMm: Number.NaN,
      lumenHu: grey[placeOf(point)],
      levelHu: level,
    })),
    labels: {
      size: grid.size,
      originMm: grid.originMm,
      directions: [
        [h, 0, 0],
        [0, h, 0],
        [0, 0, h],
      ],
      values,
    },
    unsure: [],
    unsureShare: 0,
    touching: [],
    report: [{ stage: 'growth', text: `grown from the sac at ${fixed(level, 0)} HU` }],
  };
}

const MARGIN_MM = 20;

function gridAbout(points: readonly Vec3[], volume: GreyVolume): EvenGrid {
  const stepMm = Math.max(0.5, Math.min(1, 0.7 * voxelMm(volume)));
  const low = [0, 1, 2].map((d) => Math.min(...points.map((p) => p[d])) - MARGIN_MM) as Vec3;
  const high = [0, 1, 2].map((d) => Math.max(...points.map((p) => p[d])) + MARGIN_MM) as Vec3;
  return {
    originMm: low,
    stepMm,
    size: low.map((x, d) => Math.ceil((high[d] - x) / stepMm) + 1) as [number, number, number],
  };
}
