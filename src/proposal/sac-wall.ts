import { add, scale, type Vec3 } from '../foundation/vector.js';
import { median } from '../geometry/statistics.js';
import type { TriangleMesh } from '../mesh/mesh.js';
import { valueAt } from '../volume/ct/grey-volume.js';
import { edgeAlong, type ScanToRead } from '../witness/wall.js';
import { CornerNet } from './corner-net.js';
import { roughWall } from './rough-wall.js';
import type { Scene } from './scene.js';

/** A sac's surface with the result of the fit of its wall at each vertex. */
export interface RefinedSac {
  mesh: TriangleMesh;
  normals: Float64Array;
  /** 1 if the wall was found in the scan, 0 if it was taken from its neighbours. */
  isOwn: Uint8Array;
  contrastHu: Float32Array;
}

/** How far inside the rough wall its fit starts, mm. */
const INSIDE_MM = 1.2;
/** How far outside the rough wall, and the one at half level, the wall is searched for, mm. */
const OUTSIDE_ROUGH_MM = 2.5;
const OUTSIDE_MM = 1.2;

/**
 * Moves each vertex of the rough sac along its normal onto the wall in the scan, by half level or, with `scan`, by the model of its blur.
 */
export function refinedSac(
  mesh: TriangleMesh,
  { volume, lumenHu, brightestHu }: Pick<Scene, 'volume' | 'lumenHu' | 'brightestHu'>,
  scan?: ScanToRead,
): RefinedSac {
  const mostMm = INSIDE_MM + (scan ? OUTSIDE_MM : OUTSIDE_ROUGH_MM);
  const net = new CornerNet(mesh);
  let { positions } = mesh;
  let result: RefinedSac | undefined;
  const rounds = scan ? 2 : 1;
  for (let round = 0; round < rounds; round++) {
    const normals = net.normals(positions, 3);
    const bends = net.averaged(net.bends(positions, normals), 3);
    const count = positions.length / 3;
    const offset = new Float64Array(count);
    const isOwn = new Uint8Array(count);
    const contrastHu = new Float32Array(count);
    for (let v = 0; v < count; v++) {
      const p: Vec3 = [positions[3 * v], positions[3 * v + 1], positions[3 * v + 2]];
      const n: Vec3 = [normals[3 * v], normals[3 * v + 1], normals[3 * v + 2]];
      const from = add(p, scale(n, -INSIDE_MM));
      // contrast agent that is not yet mixed is brighter on one side of a sac
      const brighter = Math.max(0, Math.min(brightestHu, valueAt(volume, ...from)) - lumenHu);
      const wall = roughWall(volume, from, n, { lumenHu, mostHu: brightestHu + brighter, mostMm });
      if (!wall || wall === 'bone') continue;
      const off = wall.atMm - INSIDE_MM;
      if (!scan) {
        offset[v] = off;
        isOwn[v] = 1;
        contrastHu[v] = lumenHu - wall.outsideHu;
        continue;
      }
      // a disc with the total curvature of the wall
      const radius = 1 / Math.min(1 / MOST_CURVED_MM, Math.max(1 / FLAT_MM, bends[v]));
      const centre = add(p, scale(n, off - radius));
      const fine = edgeAlong(centre, { direction: n, radiusMm: radius }, lumenHu, scan);
      if (!fine) continue;
      offset[v] = off + fine.radiusMm - radius;
      isOwn[v] = 1;
      contrastHu[v] = lumenHu - fine.outsideHu;
    }
    dropFar(net, offset, isOwn);
    const filled = net.filled(offset, isOwn);
    const smooth = net.averaged(filled, scan ? 2 : 1);
    const moved = positions.slice();
    for (let i = 0; i < moved.length; i++) moved[i] += smooth[Math.floor(i / 3)] * normals[i];
    positions = moved;
    result = {
      mesh: { positions, triangles: mesh.triangles },
      normals: net.normals(positions, 1),
      isOwn,
      contrastHu,
    };
  }
  return result!;
}

const MOST_CURVED_MM = 0.8;
const FLAT_MM = 60;

/** Discards the walls of places whose offset is an outlier among their neighbours. */
function dropFar(net: CornerNet, offset: Float64Array, isOwn: Uint8Array): void {
  const drop: number[] = [];
  for (let v = 0; v < isOwn.length; v++) {
    if (!isOwn[v]) continue;
    const near = net.around(v).flatMap((w) => (isOwn[w] ? [offset[w]] : []));
    if (near.length >= 3 && Math.abs(offset[v] - median(near)) > 0.6) drop.push(v);
  }
  for (const v of drop) isOwn[v] = 0;
}
