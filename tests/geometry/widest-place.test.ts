import { describe, expect, it } from 'vitest';
import { Surface } from '../../src/geometry/surface.js';
import { widestPlace } from '../../src/geometry/whole/widest-place.js';
import { box, capsule, sphere } from './end-shapes.js';

describe('widest place', () => {
  it.each([
    ['ball', sphere(10, 24), 10],
    ['block', box(20, 24, 30, 12), 10],
    ['tube', capsule(3, 40, 48), 3],
  ])('%s: the largest inscribed ball within 1 %%', (_, mesh, radiusMm) => {
    const widest = widestPlace(new Surface(mesh, [0, 0, 0]))!;
    expect(widest.atMostMm).toBeUndefined();
    expect(Math.abs(widest.radiusMm - radiusMm)).toBeLessThan(0.01 * radiusMm);
  });

  it('says what it may have missed where a thousand places are about equally wide', () => {
    const cube = box(2, 2, 2, 1);
    const [corners, indices] = [cube.positions.length, cube.triangles.length];
    const positions = new Float64Array(1728 * corners);
    const triangles = new Uint32Array(1728 * indices);
    for (let k = 0; k < 1728; k++) {
      const place = [k % 12, Math.floor(k / 12) % 12, Math.floor(k / 144)];
      for (let i = 0; i < corners; i++) positions[k * corners + i] = cube.positions[i] + 5.3 * place[i % 3];
      for (let i = 0; i < indices; i++) triangles[k * indices + i] = cube.triangles[i] + (k * corners) / 3;
    }
    const widest = widestPlace(new Surface({ positions, triangles }, [0, 0, 0]))!;
    // each cube contains a ball of 1 mm
    expect(widest.radiusMm).toBeGreaterThan(0.9);
    expect(widest.radiusMm).toBeLessThanOrEqual(1);
    expect(widest.atMostMm).toBeGreaterThanOrEqual(1);
    expect(widest.atMostMm).toBeLessThan(2);
  });
});
