import { describe, expect, it } from 'vitest';
import { closeEnds } from '../../src/mesh/close-ends.js';
import { prepareSurface } from '../../src/mesh/load-surface.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { MOST_PIECES } from '../../src/mesh/scattered.js';

/** This many separate triangles side by side. */
function loose(count: number): TriangleMesh {
  const positions = new Float64Array(9 * count);
  for (let t = 0; t < count; t++) {
    const [x, y] = [2 * (t % 600), 2 * Math.floor(t / 600)];
    positions.set([x, y, 0, x + 1, y, 0, x, y + 1, 0], 9 * t);
  }
  return { positions, triangles: Uint32Array.from({ length: 3 * count }, (_, i) => i) };
}
const read = (count: number) =>
  prepareSurface(
    { format: 'stl-binary', objects: [{ name: 'a', mesh: loose(count) }], unitMm: 1, notes: [] },
    { label: 'A1', shown: 'a.stl', checkSelfIntersection: false },
  );

describe('a surface of loose triangles', () => {
  it('is described by its number of pieces, however many', () => {
    const { findings, topology } = read(150_000);
    expect(topology.componentSizes).toHaveLength(150_000);
    expect(findings.map((f) => f.id)).toContain('several-components');
  }, 60_000);

  it('is refused in one line above the limit, before every piece is described', () => {
    expect(() => read(MOST_PIECES + 1)).toThrow(
      `a.stl: it falls into ${MOST_PIECES + 1} loose pieces, more than the ${MOST_PIECES} that a surface may have. Export the surface again`,
    );
  }, 60_000);

  it('is not a vessel: beyond 2000 openings they are not examined one by one', () => {
    expect(() => closeEnds(read(2001), { label: 'A1', shown: 'a.stl' })).toThrow(
      'a.stl (A1): the surface is open in 2001 places, more than the 2000 that are looked at one by one.',
    );
  });
});
