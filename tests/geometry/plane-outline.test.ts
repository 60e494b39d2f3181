import { describe, expect, it } from 'vitest';
import { cross, normalize, type Vec3 } from '../../src/foundation/vector.js';
import { type FlatLine, planeOutline } from '../../src/geometry/plane-outline.js';
import { cylinder, gridSphere } from '../mesh/shapes.js';

/** Area inside a closed line by the shoelace formula. */
function area(line: FlatLine): number {
  let twice = 0;
  for (let i = 0; i + 3 < line.length; i += 2) twice += line[i] * line[i + 3] - line[i + 2] * line[i + 1];
  return Math.abs(twice) / 2;
}

const isClosed = (line: FlatLine): boolean => line[0] === line.at(-2) && line[1] === line.at(-1);

describe('where a surface cuts a plane', () => {
  const tube = cylinder(96, 5, 40, 12);
  const z = tube.positions.filter((_, i) => i % 3 === 2);
  const middle = (Math.min(...z) + Math.max(...z)) / 2;

  it('is one closed ellipse on a tube, of area r² π over the cosine of the tilt', () => {
    for (const degrees of [0, 20, 45]) {
      const t = (degrees * Math.PI) / 180;
      const right: Vec3 = [Math.cos(t), 0, Math.sin(t)];
      const lines = planeOutline(tube, { centre: [0, 0, middle + 0.013], right, down: [0, 1, 0] }, 30);
      expect(lines.length).toBe(1);
      expect(isClosed(lines[0])).toBe(true);
      expect(area(lines[0]) / ((25 * Math.PI) / Math.cos(t))).toBeCloseTo(1, 2);
    }
  });

  it('lies at the radius of an off-centre section of a sphere, through any plane', () => {
    const sphere = gridSphere(60, 10);
    const down = normalize([0.3, -0.5, 0.8]);
    const right = normalize(cross([0.1, 1, 0.2], down));
    const away = cross(right, down);
    const lines = planeOutline(sphere, { centre: away.map((x) => 6 * x) as Vec3, right, down }, 30);
    expect(lines.length).toBe(1);
    for (let i = 0; i < lines[0].length; i += 2)
      expect(Math.abs(Math.hypot(lines[0][i], lines[0][i + 1]) - 8)).toBeLessThan(0.12);
  });

  it('is complete where vertices and edges lie in the plane, and empty next to the surface', () => {
    const end = Math.min(...z);
    const at = (height: number): FlatLine[] =>
      planeOutline(tube, { centre: [0, 0, height], right: [1, 0, 0], down: [0, 1, 0] }, 30);
    for (const height of new Set(z)) {
      const lines = at(height);
      if (height > end) expect(lines.every(isClosed)).toBe(true);
    }
    expect(at(end - 1)).toEqual([]);
  });

  it('stays within reach', () => {
    const far = planeOutline(tube, { centre: [0, 0, middle], right: [0, 0, 1], down: [0, 1, 0] }, 6);
    expect(far.length).toBeGreaterThan(0);
    const places = far.flatMap((line) => line.filter((_, i) => i % 2 === 0)).map(Math.abs);
    expect(Math.max(...places)).toBeLessThan(12);
  });
});
