import { type BufferAttribute, SphereGeometry } from 'three';
import { mergeVertices } from 'three/addons/utils/BufferGeometryUtils.js';
import { expect, it } from 'vitest';
import type { TriangleMesh } from '../../src/mesh/mesh.js';
import { CornerNet } from '../../src/proposal/corner-net.js';
import { joined } from '../../src/proposal/joined.js';

/** A ball as three makes it. */
function ball(radiusMm: number): TriangleMesh {
  const sphere = new SphereGeometry(radiusMm, 48, 24);
  sphere.deleteAttribute('normal');
  sphere.deleteAttribute('uv');
  const merged = mergeVertices(sphere);
  const points = merged.getAttribute('position') as BufferAttribute;
  return {
    positions: Float64Array.from(points.array),
    triangles: Uint32Array.from(merged.getIndex()!.array),
  };
}

it('a corner whose normal points the wrong way, as in a fold, draws out no spike', () => {
  const mesh = ball(8);
  const normals = new CornerNet(mesh).normals(mesh.positions, 1);
  for (let v = 0; v < normals.length; v += 3 * 40) for (let d = 0; d < 3; d++) normals[v + d] *= -1;
  const { mesh: out } = joined({ mesh, normals }, [], 0.4);
  let farthest = 0;
  for (let v = 0; v < out.positions.length; v += 3)
    farthest = Math.max(farthest, Math.hypot(...out.positions.subarray(v, v + 3)));
  // a corner reaches two places far along each axis
  expect(farthest).toBeLessThan(8 + 4 * 0.4);
});
