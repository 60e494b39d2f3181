import { describe, expect, it, vi } from 'vitest';
import { distance, dot } from '../../src/foundation/vector.js';
import { Surface } from '../../src/geometry/surface.js';
import { farEnds } from '../../src/geometry/whole/ends-of.js';
import { peaksOf } from '../../src/geometry/whole/peaks.js';
import { capPlanarLoops } from '../../src/mesh/cap.js';
import { buildTopology } from '../../src/mesh/topology.js';
import { vesselsOf, wholeMesh } from '../../src/phantoms/lesion.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { box, capsule, sphere } from './end-shapes.js';
import { IS_LONG } from './make.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 120_000 });

/** Lesions small enough for a quick test, more with PAVM_LONG=1; cells a fifth of the thinnest vessel. */
const SEEDS = IS_LONG ? [1, 2, 3, 4, 5, 8, 9, 11, 13, 15] : [1, 8, 9];
const OPEN_SEEDS = IS_LONG ? [4, 13] : [4];

describe('far ends of fused lesions', () => {
  it.each([
    ...SEEDS.map((seed) => [seed, false] as const),
    ...OPEN_SEEDS.map((seed) => [seed, true] as const),
  ])('seed %i, open ends: %s: finds every end and no other', (seed, openEnds) => {
    const plan = randomLesion(seed);
    const thinnest = Math.min(...[...vesselsOf(plan).values()].map(({ calibreAt }) => calibreAt(0)));
    const whole = wholeMesh(plan, Math.min(0.7, thinnest / 5), openEnds);
    const capped = capPlanarLoops(whole.mesh, buildTopology(whole.mesh).loops, { planarityFraction: 0.1 });
    const caps = capped.caps.flatMap(({ from, to }) => Array.from({ length: to - from }, (_, i) => from + i));
    const surface = new Surface(capped.mesh, plan.sac.centreMm, caps);
    const before = surface.isCap.slice();
    const { ends, widest, isBranched } = farEnds(surface);
    expect(surface.isCap).toEqual(before);
    expect(isBranched).toBe(true);
    const vessels = [...vesselsOf(plan).values()];
    expect(ends).toHaveLength(vessels.length);
    const taken = new Set<string>();
    for (const { axis, calibreAt } of vessels) {
      const [nearest] = ends
        .map((end) => ({ end, mm: distance(surface.toFile(end.at), axis.pointAt(0)) }))
        .sort((a, b) => a.mm - b.mm);
      expect(nearest.mm).toBeLessThan(Math.min(2, Math.max(1.2, calibreAt(0))));
      expect(surface.isInside(nearest.end.at)).toBe(true);
      const trueMm = calibreAt(calibreAt(0));
      expect(Math.abs(nearest.end.calibreMm - trueMm)).toBeLessThan(0.05 * trueMm + 0.1);
      // within 8 degrees: the direction is that of the last calibre, over which the axis bends
      expect(dot(nearest.end.direction, axis.tangentAt(0))).toBeLessThan(-0.99);
      expect(nearest.end.kind).toBe(openEnds ? 'open' : 'flat');
      taken.add(nearest.end.letter);
    }
    expect(taken.size).toBe(vessels.length);
    expect(distance(surface.toFile(widest!.centre), plan.sac.centreMm)).toBeLessThan(widest!.radiusMm);
  });
});

describe('far ends of plain bodies', () => {
  it('finds none on a ball and a box', () => {
    expect(farEnds(new Surface(sphere(10, 24), [0, 0, 0]))).toMatchObject({ ends: [], isBranched: false });
    expect(farEnds(new Surface(box(20, 24, 30, 12), [0, 0, 0])).isBranched).toBe(false);
  });
  it('calls the ends of a capsule round and a single tube no blood pool', () => {
    // the largest ball fits anywhere along a tube: if it is found at an end, that end is not a far end
    const { ends, isBranched } = farEnds(new Surface(capsule(3, 30, 48), [0, 0, 0]));
    expect(isBranched).toBe(false);
    expect([1, 2]).toContain(ends.length);
    expect(new Set(ends.map((end) => end.kind))).toEqual(new Set(['round']));
    for (const end of ends) expect(end.calibreMm).toBeGreaterThan(5.7);
  });
});

describe('peaks', () => {
  it('gives the two tips of a capsule their heights above the saddle between them', () => {
    const mesh = capsule(2, 20, 24);
    const surface = new Surface(mesh, [0, 0, 0]);
    const height = Float64Array.from({ length: surface.vertexCount }, (_, v) =>
      Math.abs(surface.vertex(v)[2]),
    );
    const lowest = Math.min(...height);
    const peaks = peaksOf(surface, height, 1);
    expect(peaks).toHaveLength(2);
    expect(peaks[0].heightMm).toBeCloseTo(12, 9);
    // known to one part in 65536, and to the vertices nearest to the saddle
    expect(peaks[1].heightMm).toBeGreaterThan(12 - lowest - 1);
    expect(peaks[1].heightMm).toBeLessThanOrEqual(12);
  });
});
