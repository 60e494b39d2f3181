import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { measureOutline } from '../../src/geometry/outline.js';

/** Widths of a polygon by brute force: the strip along the line through every pair of points, and every pair of points. */
function bruteForceWidths(points: readonly (readonly [number, number])[]): [number, number] {
  let smallest = Number.POSITIVE_INFINITY;
  let largest = 0;
  for (const a of points)
    for (const b of points) {
      const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
      const far = Math.hypot(dx, dy);
      if (far === 0) continue;
      largest = Math.max(largest, far);
      const across = points.map((p) => (dx * (p[1] - a[1]) - dy * (p[0] - a[0])) / far);
      smallest = Math.min(smallest, Math.max(...across) - Math.min(...across));
    }
  return [smallest, largest];
}

const flat = (points: readonly (readonly [number, number])[]): Float64Array =>
  Float64Array.from(points.flat());

describe('how much of its convex hull an outline fills', () => {
  const circle = (x: number, r: number, from: number, to: number): [number, number][] =>
    Array.from({ length: 721 }, (_, i) => {
      const a = from + ((to - from) * i) / 720;
      return [x + r * Math.cos(a), r * Math.sin(a)];
    });

  it('an oval fills it', () => {
    const oval = circle(0, 1, 0, 2 * Math.PI).map(([x, y]): [number, number] => [8 * x + 3, 5 * y]);
    expect(measureOutline(flat(oval.slice(0, -1))).fullness).toBeCloseTo(1, 9);
  });

  it('two circles side by side, joined by a neck 1 wide, fill what the closed form says', () => {
    // radius 2, centres 2c apart, joined along |y| <= 0.5
    const [r, h] = [2, 0.5];
    const c = Math.sqrt(r * r - h * h);
    const cut = Math.asin(h / r);
    const outline = [
      ...circle(c, r, -Math.PI + cut, Math.PI - cut),
      ...circle(-c, r, cut, 2 * Math.PI - cut),
    ];
    const lens = 2 * (r * r * cut - h * c);
    const areaMm2 = 2 * Math.PI * r * r - lens;
    const hullMm2 = Math.PI * r * r + 2 * c * 2 * r;
    expect(measureOutline(flat(outline)).fullness).toBeCloseTo(areaMm2 / hullMm2, 4);
  });
});

describe('a single outline', () => {
  it('a rectangle of 3 by 4, off the origin, in either orientation', () => {
    const corners: [number, number][] = [
      [10, 20],
      [13, 20],
      [13, 24],
      [10, 24],
    ];
    for (const round of [corners, [...corners].reverse()]) {
      const m = measureOutline(flat(round));
      expect(m.areaMm2).toBeCloseTo(12, 9);
      expect(m.equivalentMm).toBeCloseTo(2 * Math.sqrt(12 / Math.PI), 9);
      expect([m.minMm, m.maxMm]).toEqual([3, 5]);
      expect(m.centroid[0]).toBeCloseTo(11.5, 9);
      expect(m.centroid[1]).toBeCloseTo(22, 9);
    }
  });

  it('a triangle: its smallest width is its smallest height, its largest its longest side', () => {
    const m = measureOutline(Float64Array.of(0, 0, 6, 0, 0, 8));
    expect(m.areaMm2).toBeCloseTo(24, 12);
    expect(m.minMm).toBeCloseTo(4.8, 12);
    expect(m.maxMm).toBeCloseTo(10, 12);
    expect(m.centroid).toEqual([2, 8 / 3]);
  });

  it('a notch reduces the area and not the widths', () => {
    const m = measureOutline(Float64Array.of(0, 0, 10, 0, 10, 10, 5, 4, 0, 10));
    expect(m.areaMm2).toBeCloseTo(100 - 30, 12);
    expect([m.minMm, m.maxMm]).toEqual([10, Math.hypot(10, 10)]);
  });

  it('an ellipse of n points has n·sin(2 pi / n) / (2 pi) of its area and the widths of its axes', () => {
    for (const n of [16, 64, 256]) {
      const points = Array.from({ length: n }, (_, i): [number, number] => {
        const t = (2 * Math.PI * i) / n;
        return [1 + 5 * Math.cos(t), 3 * Math.sin(t)];
      });
      const m = measureOutline(flat(points));
      expect(m.areaMm2).toBeCloseTo(15 * Math.PI * ((n * Math.sin((2 * Math.PI) / n)) / (2 * Math.PI)), 9);
      expect(m.maxMm).toBeCloseTo(10, 9);
      // the strip touches a chord next to the end of the short axis: 3·(1 + cos(pi/n)) at most
      expect(m.minMm).toBeLessThanOrEqual(6);
      expect(m.minMm).toBeGreaterThanOrEqual(6 * Math.cos(Math.PI / n));
    }
  });

  it('collinear points, or no points', () => {
    expect(measureOutline(Float64Array.of(0, 0, 3, 4, 6, 8))).toMatchObject({
      areaMm2: 0,
      minMm: 0,
      maxMm: 10,
    });
    expect(measureOutline(Float64Array.of(1, 1, 1, 1, 1, 1))).toMatchObject({
      areaMm2: 0,
      minMm: 0,
      maxMm: 0,
    });
  });
});

it('calipers agree with brute force on random polygons', () => {
  // hundredths of a millimetre: many parallel edges and collinear points, no slivers from rounding
  const coordinate = fc.integer({ min: -2000, max: 2000 }).map((n) => n / 100);
  fc.assert(
    fc.property(fc.array(fc.tuple(coordinate, coordinate), { minLength: 3, maxLength: 24 }), (points) => {
      const [smallest, largest] = bruteForceWidths(points);
      fc.pre(smallest > 1e-9);
      const m = measureOutline(flat(points));
      expect(m.maxMm).toBeCloseTo(largest, 8);
      expect(m.minMm).toBeCloseTo(smallest, 6);
    }),
    { seed: 20260314, numRuns: 500 },
  );
});

describe('repeated points and collinear points', () => {
  /** Every corner repeated `times`, with `extra` points on each side, all moved by up to `offMm`. */
  function crowded(
    corners: readonly (readonly [number, number])[],
    { times, extra, offMm }: { times: number; extra: number; offMm: number },
  ): Float64Array {
    const out: number[] = [];
    let turn = 1;
    const off = (): number => {
      turn = (turn * 48271) % 2147483647;
      return offMm * (turn / 2147483647 - 0.5);
    };
    corners.forEach((a, i) => {
      const b = corners[(i + 1) % corners.length];
      for (let k = 0; k < times; k++) out.push(a[0] + off(), a[1] + off());
      for (let k = 1; k <= extra; k++) {
        const f = k / (extra + 1);
        out.push(a[0] + f * (b[0] - a[0]) + off(), a[1] + f * (b[1] - a[1]) + off());
      }
    });
    return Float64Array.from(out);
  }

  const ellipse = Array.from({ length: 48 }, (_, i): [number, number] => {
    const t = (2 * Math.PI * i) / 48;
    return [4 * Math.cos(t), 2.5 * Math.sin(t)];
  });

  it.each([0, 1e-16, 1e-15, 1e-13, 1e-11])('an ellipse of 8 by 5, points up to %d mm apart', (offMm) => {
    const bare = measureOutline(flat(ellipse));
    const m = measureOutline(crowded(ellipse, { times: 3, extra: 4, offMm }));
    expect(m.maxMm).toBeCloseTo(8, 9);
    expect(m.minMm).toBeCloseTo(bare.minMm, 9);
    expect(m.areaMm2).toBeCloseTo(bare.areaMm2, 8);
  });

  it('a square with crowded sides, rotated', () => {
    const turned = [0, 1, 2, 3].map((k): [number, number] => {
      const a = 0.3 + (k * Math.PI) / 2;
      return [100 + 5 * Math.cos(a), 50 + 5 * Math.sin(a)];
    });
    const m = measureOutline(crowded(turned, { times: 2, extra: 30, offMm: 0 }));
    expect(m.minMm).toBeCloseTo(Math.SQRT2 * 5, 9);
    expect(m.maxMm).toBeCloseTo(10, 9);
  });
});
