import fc from 'fast-check';
import { expect, it } from 'vitest';
import { type EdgePairing, pairEdges, RIM, UNPAIRED } from '../../src/mesh/edge-pairing.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';

/** The same with a table of all edges; components by spreading a number until nothing changes. */
function byTable({ triangles }: TriangleMesh): EdgePairing {
  const twin = new Int32Array(triangles.length).fill(RIM);
  const component = Uint32Array.from({ length: triangles.length / 3 }, (_, t) => t);
  const edges = new Map<string, number[]>();
  const ends = (h: number): [number, number] => [triangles[h], triangles[h - (h % 3) + ((h + 1) % 3)]];
  const low = (h: number): number => Math.min(...ends(h));
  for (let h = 0; h < triangles.length; h++) {
    const t = h - (h % 3);
    if (new Set(triangles.subarray(t, t + 3)).size < 3) {
      twin[h] = UNPAIRED;
      continue;
    }
    const key = ends(h)
      .sort((a, b) => a - b)
      .join(' ');
    edges.set(key, [...(edges.get(key) ?? []), h]);
  }
  const uses = [...edges.values()];
  for (const list of uses) {
    if (list.length > 2) for (const h of list) twin[h] = UNPAIRED;
    if (list.length === 2) [twin[list[0]], twin[list[1]]] = [list[1], list[0]];
  }
  for (let changes = 1; changes > 0; ) {
    changes = 0;
    for (const list of uses) {
      const least = Math.min(...list.map((h) => component[Math.floor(h / 3)]));
      for (const h of list) {
        if (component[Math.floor(h / 3)] !== least) changes++;
        component[Math.floor(h / 3)] = least;
      }
    }
  }
  const roots = [...new Set(component)].sort((a, b) => a - b);
  return {
    twin,
    edgeCount: edges.size,
    nonManifoldEdges: uses
      .filter((list) => list.length > 2)
      .sort((a, b) => low(a[0]) - low(b[0]) || a[2] - b[2])
      .flatMap(([h]) => ends(h).sort((a, b) => a - b)),
    inconsistentEdges: uses
      .filter((list) => list.length === 2 && triangles[list[0]] === triangles[list[1]])
      .sort((a, b) => a[0] - b[0])
      .flatMap(([h]) => ends(h)),
    component: component.map((root) => roots.indexOf(root)),
    componentSizes: Uint32Array.from(roots, (root) => component.filter((c) => c === root).length),
  };
}

it('pairs the half-edges of any triangles like a table of all edges', () => {
  const soup = fc.integer({ min: 3, max: 12 }).chain((vertices) =>
    fc
      .array(fc.array(fc.integer({ min: 0, max: vertices - 1 }), { minLength: 3, maxLength: 3 }), {
        maxLength: 30,
      })
      .map(
        (list): TriangleMesh => ({
          positions: new Float64Array(3 * vertices),
          triangles: Uint32Array.from(list.flat()),
        }),
      ),
  );
  let [shared, turned] = [0, 0];
  fc.assert(
    fc.property(soup, (mesh) => {
      const found = pairEdges(mesh);
      expect(found).toEqual(byTable(mesh));
      shared += found.nonManifoldEdges.length;
      turned += found.inconsistentEdges.length;
    }),
    { seed: 11, numRuns: 500 },
  );
  expect(shared).toBeGreaterThan(100);
  expect(turned).toBeGreaterThan(100);
});
