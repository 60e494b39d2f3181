import { describe, expect, it } from 'vitest';
import { pairEdges } from '../../src/mesh/edge-pairing.js';
import { measure } from '../../src/mesh/measures.js';
import { levelSurface } from '../../src/proposal/level-surface.js';
import { roughWall, type RoughWall } from '../../src/proposal/rough-wall.js';
import type { GreyVolume } from '../../src/volume/ct/grey-volume.js';
import { axialStack } from '../witness/synthetic-ct.js';

describe('the surface of a level', () => {
  it('is a closed ball of the right size, outward', () => {
    const [n, h, radius] = [24, 0.5, 4.6];
    const originMm: [number, number, number] = [-5.9, -5.7, -5.8];
    const field = new Float32Array(n ** 3);
    for (let x = 0, at = 0; x < n; x++)
      for (let y = 0; y < n; y++)
        for (let z = 0; z < n; z++, at++)
          field[at] = Math.hypot(originMm[0] + x * h, originMm[1] + y * h, originMm[2] + z * h) - radius;
    const mesh = levelSurface({ originMm, stepMm: h, size: [n, n, n] }, field);
    expect(pairEdges(mesh).twin.every((half) => half >= 0)).toBe(true);
    const ball = (4 / 3) * Math.PI * radius ** 3;
    expect(Math.abs(measure(mesh).volumeMm3 / ball - 1)).toBeLessThan(0.01);
    for (let v = 0; v < mesh.positions.length; v += 3)
      expect(Math.abs(Math.hypot(...mesh.positions.subarray(v, v + 3)) - radius)).toBeLessThan(0.02);
  });
});

describe('the first wall along a ray', () => {
  /** Grey values that change only along x, 0.5 mm apart. */
  const along = (values: readonly number[]): GreyVolume => {
    const stack = axialStack([0, 0, 0], [0.5, 1, 1], [values.length, 3, 3]);
    const all = new Int16Array(values.length * 9);
    for (let row = 0; row < 9; row++) all.set(values, row * values.length);
    return { values: all, stack };
  };
  const search = { lumenHu: 350, mostHu: 440, mostMm: 8 };
  const look = (values: readonly number[]) => roughWall(along(values), [0, 1, 1], [1, 0, 0], search);
  const wall = (values: readonly number[]): RoughWall | undefined => {
    const found = look(values);
    return found === 'bone' ? undefined : found;
  };

  it('lies halfway to what is just outside: lung, or the wall of an airway', () => {
    // a ramp from 350 to -820 between 2 and 3 mm
    expect(wall([350, 350, 350, 350, 350, -235, -820, -820, -820, -820, -820])?.atMm).toBeCloseTo(2.5, 1);
    // -200 and no lower, then bright again
    const airway = wall([350, 350, 350, 350, 350, 75, -200, -200, 50, 50, 50]);
    expect(airway?.atMm).toBeCloseTo(2.5, 1);
    expect(airway?.outsideHu).toBeCloseTo(-200, 0);
  });

  it('is bone where that comes first', () => {
    const behind = (between: number) => [350, 350, 350, 350, between, between, 50, 50, 50, 50, 50];
    expect(wall(behind(420))?.atMm).toBeGreaterThan(2.5);
    expect(look(behind(700))).toBe('bone');
  });

  it('is none where nothing darker follows, or only soft changes', () => {
    expect(wall(Array.from({ length: 20 }, () => 350))).toBeUndefined();
    expect(wall(Array.from({ length: 20 }, (_, i) => (i < 5 ? 350 : 260)))).toBeUndefined();
  });
});
