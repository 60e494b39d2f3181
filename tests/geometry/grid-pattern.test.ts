import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../src/foundation/vector.js';
import {
  calibreError,
  driftMm,
  meanCalibreIntervalMm,
  sectionResolutionMm,
} from '../../src/geometry/uncertainty.js';
import { type RandomStream, randomStream } from '../../src/phantoms/random.js';
import { tubeTrial, ZONE_MM } from './scan-trials.js';

// A vessel along an axis of a label map's grid: all slices cut it at the same place. How far the number of lattice points in a circle
// strays from its area is Gauss's circle problem (Hardy and Wright, An Introduction to the Theory of Numbers, from memory); here it is
// counted.

/** Calibre by the number of lattice points in a circle, voxels. */
function counted(calibre: number, x: number, y: number): number {
  const radius = calibre / 2;
  const reach = Math.ceil(radius) + 1;
  let count = 0;
  for (let i = -reach; i <= reach; i++)
    for (let j = -reach; j <= reach; j++) if ((i - x) ** 2 + (j - y) ** 2 < radius * radius) count++;
  return 2 * Math.sqrt(count / Math.PI);
}

/** Mean square error of a calibre, voxels, averaged over a drift across the grid. */
function meanSquare(calibre: number, drift: number, random: RandomStream, trials = 1500): number {
  const places = drift === 0 ? 1 : 24;
  let sum = 0;
  for (let t = 0; t < trials; t++) {
    const own = calibre * random.between(0.95, 1.05);
    const [x, y, way] = [random.next(), random.next(), 2 * Math.PI * random.next()];
    let error = 0;
    for (let k = 0; k < places; k++) {
      const u = places === 1 ? 0 : (drift * k) / (places - 1);
      // the pattern repeats from voxel to voxel
      error += counted(own, (x + u * Math.cos(way)) % 1, (y + u * Math.sin(way)) % 1) - own;
    }
    sum += (error / places) ** 2;
  }
  return sum / trials;
}

/** The part of a calibre's error that comes from the grid, voxels: with and without drift, all else equal. */
const gridPart = (calibre: number, drift: number): number => {
  const { sigmaMm: all } = calibreError(calibre, 1, 0, drift);
  const { sigmaMm: rest } = calibreError(calibre, 1, 0, Number.POSITIVE_INFINITY);
  return Math.sqrt(all ** 2 - rest ** 2 + (2 * 0.11 * (1 / calibre)) ** 2);
};

describe('the place of a vessel in the grid', () => {
  it.each([4, 6, 9, 14])('scatters a calibre of %d voxels as counting lattice points does', (calibre) => {
    const scatter = Math.sqrt(meanSquare(calibre, 0, randomStream(calibre)));
    expect(gridPart(calibre, 0) / scatter).toBeGreaterThan(0.9);
    expect(gridPart(calibre, 0) / scatter).toBeLessThan(1.1);
  });

  it.each([0.25, 0.5, 1])('matters less where the vessel drifts by %d voxels', (drift) => {
    const independent = meanSquare(9, 0, randomStream(1)) / meanSquare(9, drift, randomStream(2));
    const taken = gridPart(9, 0) ** 2 / gridPart(9, drift) ** 2;
    expect(taken / independent).toBeGreaterThan(0.75);
    expect(taken / independent).toBeLessThan(1.35);
  });

  it('does not matter in a vessel that crosses many voxels, nor without a resolution', () => {
    expect(calibreError(6, 0.7, 0, 20)).toEqual(calibreError(6, 0.7, 0, Number.POSITIVE_INFINITY));
    expect(calibreError(6, undefined, 0, 0)).toEqual({ missingMm: 0, sigmaMm: 0 });
  });
});

describe('drift', () => {
  const line = (to: Vec3): Vec3[] =>
    Array.from({ length: 11 }, (_, i) => [5 + (to[0] * i) / 10, (to[1] * i) / 10, (to[2] * i) / 10]);

  it('is taken across the axis that the vessel follows', () => {
    expect(driftMm(line([0, 0, 20]), true)).toBe(0);
    expect(driftMm(line([3, 4, 20]), true)).toBeCloseTo(5, 12);
    expect(driftMm(line([-20, 0.3, 0.4]), true)).toBeCloseTo(0.5, 12);
  });

  it('is taken across the line between the ends where the axes are not known', () => {
    expect(driftMm(line([3, 4, 20]), false)).toBeCloseTo(0, 12);
    const bent: Vec3[] = [
      [0, 0, 0],
      [0, 2, 5],
      [0, 0, 10],
    ];
    expect(driftMm(bent, false)).toBeCloseTo(2, 12);
    expect(
      driftMm(
        [
          [1, 1, 1],
          [1, 1, 1],
        ],
        false,
      ),
    ).toBe(0);
  });
});

it.each([
  ['along the long axis', [0, 0, 1]],
  ['across the long axis', [1, 0, 0]],
] as [string, Vec3][])(
  '95 percent intervals hold the calibres of 60 vessels that run %s of a label map',
  (_name, direction) => {
    let held = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const tube = tubeTrial(seed, { from: 'label', thresholdOff: 0.1 }, direction);
      const v = sectionResolutionMm(tube.scan, tube.direction);
      const error = calibreError(tube.measuredCalibreMm, v, tube.edgeMm, tube.driftMm);
      const [low, high] = meanCalibreIntervalMm(
        tube.measuredCalibresMm,
        tube.measuredCalibreMm,
        ZONE_MM,
        error,
      );
      if (low <= tube.calibreMm && tube.calibreMm <= high) held++;
    }
    // of 60 trials that hold 95 % each, fewer than 53 in one of a hundred runs
    expect(held).toBeGreaterThanOrEqual(54);
  },
  60_000,
);
