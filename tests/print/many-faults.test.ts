import { describe, expect, it } from 'vitest';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { randomLesion } from '../../src/phantoms/random-lesion.js';
import { isClean } from '../../src/print/check-solid.js';
import { preparePrint } from '../../src/print/prepare-print.js';
import { inputOf } from './make.js';

/** Linear congruential generator of Numerical Recipes (from memory): the same faults each time. */
function generator(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (1664525 * state + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

type Fault = (mesh: TriangleMesh, random: () => number) => TriangleMesh;
const some = (count: number, random: () => number): number => Math.floor(random() * count);
const moveVertices =
  (many: number, byMm: number): Fault =>
  ({ positions, triangles }, random) => {
    const moved = positions.slice();
    for (let n = 0; n < many; n++) {
      const v = some(positions.length / 3, random);
      for (let k = 0; k < 3; k++) moved[3 * v + k] += byMm * (random() - 0.5);
    }
    return { positions: moved, triangles };
  };
const FAULTS: Record<string, Fault> = {
  hole: ({ positions, triangles }, random) => {
    const at = some(triangles.length / 3, random);
    return { positions, triangles: triangles.filter((_, i) => Math.abs(Math.floor(i / 3) - at) > 1) };
  },
  'turned triangles': ({ positions, triangles }, random) => {
    const turned = triangles.slice();
    for (let n = 0; n < 5; n++) {
      const t = 3 * some(triangles.length / 3, random);
      [turned[t + 1], turned[t + 2]] = [turned[t + 2], turned[t + 1]];
    }
    return { positions, triangles: turned };
  },
  'doubled triangles': ({ positions, triangles }, random) => {
    const t = 3 * some(triangles.length / 3, random);
    return { positions, triangles: Uint32Array.from([...triangles, ...triangles.subarray(t, t + 3)]) };
  },
  fin: ({ positions, triangles }, random) => ({
    positions,
    triangles: Uint32Array.from([
      ...triangles,
      triangles[0],
      triangles[1],
      some(positions.length / 3, random),
    ]),
  }),
  spike: moveVertices(1, 6),
  jitter: moveVertices(6, 2),
};

describe('a lesion with several faults at once', () => {
  it.each([1, 6, 13])(
    'seed %i: every part is closed, every fault and every doubt is reported',
    async (seed) => {
      const random = generator(seed * 7919);
      const input = inputOf(randomLesion([2, 5, 8, 3][seed % 4]));
      const broken: string[] = [];
      const parts = input.parts.map((part) => {
        if (random() < 0.5) return part;
        const kinds = Object.keys(FAULTS);
        broken.push(part.name);
        return { ...part, mesh: FAULTS[kinds[some(kinds.length, random)]](part.mesh, random) };
      });
      expect(broken.length).toBeGreaterThan(0);
      const pack = await preparePrint({ ...input, parts });
      expect(pack.parts.filter((p) => !p.check.isWatertight).map((p) => p.name)).toEqual([]);
      expect(pack.parts[0].role).toBe('model');
      const said = (id: string): string[] => pack.findings.filter((f) => f.id === id).map((f) => f.where);
      // A body that is closed but not clean is named, and no clean one is.
      expect(said('print-imperfect').sort()).toEqual(
        pack.parts
          .filter((p) => !isClean(p.check))
          .map((p) => p.name)
          .sort(),
      );
      for (const part of pack.result.parts.filter((p) => (p.repairs ?? []).length > 0 && p.role !== 'model'))
        expect(broken).toContain(part.name);
    },
    120_000,
  );
});
