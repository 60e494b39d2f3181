import type { Vec3 } from '../../src/foundation/vector.js';
import type { Result, Vessel } from '../../src/result/result.generated.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import type { DrawnSurface } from '../../src/witness/scan-pictures.js';
import { axialStack } from './synthetic-ct.js';

/** Radius of the bend and of the vessel, mm; the vessel runs along a quarter circle into a ball. */
export const BEND_MM = 30;
export const RADIUS_MM = 3;
export const LUMEN_HU = 380;
export const LUNG_HU = -820;
const BALL: Vec3 = [-8, BEND_MM, 0];
const BALL_MM = 9;

/** A point on the vessel's axis: from [BEND, 0, 0] round to [0, BEND, 0]. */
const onAxis = (angle: number, out = 0, z = 0): Vec3 => [
  (BEND_MM + out) * Math.cos(angle),
  (BEND_MM + out) * Math.sin(angle),
  z,
];

/** Distance from the wall of what is opacified, mm, negative inside: in closed form, so that it needs no surface. */
function depth([x, y, z]: Vec3): number {
  const angle = Math.max(-0.3, Math.min(Math.PI / 2, Math.atan2(y, x)));
  const axis = onAxis(angle);
  const vessel = Math.hypot(x - axis[0], y - axis[1], z) - RADIUS_MM;
  return Math.min(vessel, Math.hypot(x - BALL[0], y - BALL[1], z - BALL[2]) - BALL_MM);
}

/** The scene in voxels of 0.7 mm: the value falls over one voxel around the wall. */
export function bendScan(): GreyVolume {
  const step = 0.7;
  const origin: Vec3 = [-30, -22, -22];
  const [columns, rows, slices] = [100, 100, 64];
  const values = new Int16Array(columns * rows * slices);
  let n = 0;
  for (let k = 0; k < slices; k++)
    for (let j = 0; j < rows; j++)
      for (let i = 0; i < columns; i++, n++) {
        const d = depth([origin[0] + i * step, origin[1] + j * step, origin[2] + k * step]);
        const share = Math.max(0, Math.min(1, 0.5 - d / (2 * step)));
        values[n] = Math.round(LUNG_HU + share * (LUMEN_HU - LUNG_HU));
      }
  return { values, stack: axialStack(origin, [step, step, step], [columns, rows, slices]) };
}

/** The vessel's surface, closed at both ends; `by` moves it, `wider` moves its wall. */
export function bendSurface(by: Vec3 = [0, 0, 0], wider = 0): DrawnSurface {
  const [rings, around] = [60, 48];
  const positions: number[] = [];
  const triangles: number[] = [];
  for (let r = 0; r <= rings; r++)
    for (let a = 0; a < around; a++) {
      const turn = (2 * Math.PI * a) / around;
      const radius = RADIUS_MM + wider;
      const p = onAxis(((Math.PI / 2) * r) / rings, radius * Math.cos(turn), radius * Math.sin(turn));
      positions.push(...p.map((x, k) => x + by[k]));
    }
  for (let r = 0; r < rings; r++)
    for (let a = 0; a < around; a++) {
      const [p, q] = [r * around + a, r * around + ((a + 1) % around)];
      triangles.push(p, p + around, q, q, p + around, q + around);
    }
  for (const [r, flip] of [
    [0, false],
    [rings, true],
  ] as const) {
    const centre = positions.length / 3;
    positions.push(...onAxis(((Math.PI / 2) * r) / rings).map((x, k) => x + by[k]));
    for (let a = 0; a < around; a++) {
      const [p, q] = [r * around + a, r * around + ((a + 1) % around)];
      triangles.push(centre, ...(flip ? [q, p] : [p, q]));
    }
  }
  return {
    name: 'A1',
    role: 'feeder',
    mesh: { positions: Float64Array.from(positions), triangles: Uint32Array.from(triangles) },
  };
}

/** What a result would contain for the scene. */
export function bendResult(
  by: Vec3 = [0, 0, 0],
  wider = 0,
): Pick<Result, 'frame' | 'frame_axes' | 'sac' | 'vessels'> {
  const lengthMm = (Math.PI / 2) * BEND_MM;
  const at = (mm: number): Vec3 => onAxis(mm / BEND_MM).map((x, k) => x + by[k]) as Vec3;
  const calibre = 2 * (RADIUS_MM + wider);
  const profile = Array.from({ length: 46 }, (_, i) => ({
    at_mm: i + 1,
    // the thinnest by a hair, so that its position is known
    equivalent_mm: i === 20 ? calibre - 0.001 : calibre,
    min_mm: calibre,
    max_mm: calibre,
    area_mm2: (Math.PI * calibre ** 2) / 4,
  }));
  const stations = Array.from({ length: 30 }, (_, i) => ({
    at_mm: 6 + i,
    surface_mm: calibre,
    image_mm: 2 * RADIUS_MM,
  }));
  const vessel: Vessel = {
    role: 'feeder',
    length_mm: lengthMm,
    calibre_mm: { min: calibre, mean: calibre, max: calibre },
    profile,
    neck: { at_mm: lengthMm, point_mm: at(lengthMm) },
    branches: [{ name: 'B1', at_mm: 12, from_mm: 11, to_mm: 13 }],
    landing: {
      from_mm: 25,
      to_mm: 40,
      length_mm: 15,
      calibre_mm: calibre,
      calibre_interval_mm: [calibre - 0.2, calibre + 0.2],
      taper_percent: 0,
      to_sac_mm: lengthMm - 40,
    },
    wall: { stations_used: 30, stations },
    centreline_mm: Array.from({ length: 95 }, (_, i) => at((lengthMm * i) / 94)),
  };
  return {
    frame: { verdict: 'fits', shift_mm: by.map((x) => -x) as Vec3 },
    frame_axes: 'LPS',
    sac: {
      volume_ml: (4 / 3) * Math.PI * 0.9 ** 3,
      surface_cm2: 4 * Math.PI * 0.9 ** 2,
      longest_mm: 2 * BALL_MM,
      axes_mm: [2 * BALL_MM, 2 * BALL_MM, 2 * BALL_MM],
      centre_mm: BALL.map((x, k) => x + by[k]) as Vec3,
    },
    vessels: { A1: vessel },
  };
}
