import manifoldFactory from 'manifold-3d';
import { expect, it, vi } from 'vitest';
import { cross, normalize, perpendicular, subtract, type Vec3 } from '../../src/foundation/vector.js';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { vesselsOf } from '../../src/phantoms/lesion.js';
import { solidAngleWinding } from '../geometry/plane-cut.js';
import { measureTree } from './tree-trial.js';

// generous: the machine may be busy
vi.setConfig({ testTimeout: 180_000 });

const { Manifold, Mesh } = await manifoldFactory().then((kernel) => {
  kernel.setup();
  return kernel;
});

/** Calibre of the section around a point as cut by a general-purpose solid library (manifold-3d), mm. */
function slicer(mesh: TriangleMesh): (point: Vec3, along: Vec3) => number | undefined {
  const body = new Manifold(
    new Mesh({
      numProp: 3,
      vertProperties: Float32Array.from(mesh.positions),
      triVerts: Uint32Array.from(mesh.triangles),
    }),
  );
  return (point, along) => {
    const w = normalize(along);
    const u = perpendicular(w);
    const v = cross(w, u);
    // the point moves to the origin, the direction to the z axis
    const row = (a: Vec3): number => -(a[0] * point[0] + a[1] * point[1] + a[2] * point[2]);
    const columns = [0, 1, 2].flatMap((k) => [u[k], v[k], w[k], 0]);
    const turned = body.transform([...columns, row(u), row(v), row(w), 1] as never);
    const section = turned.slice(0);
    const pieces = section.decompose();
    const areas = pieces
      .filter((piece) => piece.toPolygons().some(goesRoundOrigin))
      .map((piece) => piece.area());
    // the library manages its own memory
    for (const used of [turned, section, ...pieces]) used.delete();
    return areas.length === 1 ? 2 * Math.sqrt(areas[0] / Math.PI) : undefined;
  };
}

function goesRoundOrigin(outline: readonly (readonly [number, number])[]): boolean {
  let turns = 0;
  outline.forEach(([x, y], i) => {
    const [a, b] = outline[(i + 1) % outline.length];
    turns += Math.atan2(x * b - y * a, x * a + y * b);
  });
  return turns > Math.PI;
}

const part = (sorted: readonly number[], share: number): number =>
  sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];

// voxel noise and staircase, two forks along each path, which once deflected the lines
it('calibres of a grown tree as cut by a solid library, its lines inside and as long as the tree', () => {
  const { plan, voxelMm, mesh, vessels } = measureTree(20, 'noise', { forks: 2 });
  const cut = slicer(mesh);
  const axes = vesselsOf(plan);
  const off: number[] = [];
  let [asked, inside] = [0, 0];
  const lengths: string[] = [];
  for (const vessel of vessels) {
    const line = vessel.centrelineMm;
    const at = [0];
    for (let i = 1; i < line.length; i++) at.push(at[i - 1] + Math.hypot(...subtract(line[i], line[i - 1])));
    const placeAt = (s: number): Vec3 => {
      const i = Math.max(
        1,
        Math.min(
          line.length - 1,
          at.findIndex((x) => x >= s),
        ),
      );
      const f = (s - at[i - 1]) / (at[i] - at[i - 1]);
      return [0, 1, 2].map((k) => line[i - 1][k] + f * (line[i][k] - line[i - 1][k])) as Vec3;
    };
    for (const point of line.filter((_, i) => i % 4 === 1)) {
      asked++;
      if (Math.abs(solidAngleWinding(mesh, point)) > 0.5) inside++;
    }
    const end = at[at.length - 1];
    for (const [i, { atMm, equivalentMm, atOpening }] of vessel.profile.entries()) {
      if (i % 3 !== 0 || atOpening || atMm < 1 || atMm > end - 1) continue;
      const exact = cut(placeAt(atMm), subtract(placeAt(atMm + 0.5), placeAt(atMm - 0.5)));
      off.push(exact === undefined ? 1 : Math.abs(equivalentMm / exact - 1));
    }
    if (vessel.role === 'branch') continue;
    // the line and the tree's own axis, up to where the neck lies, against each other
    const { axis } = axes.get(vessel.name)!;
    const neck = vessel.neck!.pointMm;
    let [nearest, trueMm] = [Number.POSITIVE_INFINITY, 0];
    for (let s = 0; s <= axis.lengthMm; s += 0.05) {
      const d = Math.hypot(...subtract(axis.pointAt(s), neck));
      if (d < nearest) [nearest, trueMm] = [d, s];
    }
    lengths.push(`${vessel.name} ${vessel.lengthMm.toFixed(1)} mm for ${trueMm.toFixed(1)}`);
    expect(Math.abs(vessel.lengthMm - trueMm), vessel.name).toBeLessThan(voxelMm / 2);
  }
  off.sort((a, b) => a - b);
  console.log(
    `${vessels.length} vessels, ${off.length} sections: median ${(100 * part(off, 0.5)).toFixed(2)} %, ` +
      `95th percentile ${(100 * part(off, 0.95)).toFixed(2)} %, largest ${(100 * part(off, 1)).toFixed(1)} %; ` +
      `inside ${inside} of ${asked}; ${lengths.join(', ')}`,
  );
  expect(inside).toBe(asked);
  expect(off.length).toBeGreaterThan(120);
  expect(part(off, 0.5)).toBeLessThan(0.01);
  expect(part(off, 0.95)).toBeLessThan(0.05);
});
