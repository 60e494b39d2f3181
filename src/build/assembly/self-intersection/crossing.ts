// AssemblyScript: whether two triangles cross or overlap, and where.
import { xOf, yOf, zOf } from '../shared/mesh';
import { dot } from '../shared/vector';
import { cornerVertex, FLAT, layCross, layLocal, layPoint, local, takeVertices, volume } from './local';
import { M, N } from './scratch';

/** Whether triangles s and t cross or overlap; sets the point. */
export function cross(s: i32, t: i32): bool {
  let shared = 0;
  let mine = -1;
  let others = -1;
  takeVertices(s, t);
  for (let i = 2; i >= 0; i--)
    for (let j = 5; j >= 3; j--)
      if (cornerVertex(i) === cornerVertex(j)) {
        shared++;
        mine = i;
        others = j - 3;
      }
  if (shared === 3) return false;
  layLocal();
  if (shared === 2) return foldedOver();
  if (shared === 1)
    return (
      edgeThrough((mine + 1) % 3, (mine + 2) % 3, 3) ||
      edgeThrough(3 + ((others + 1) % 3), 3 + ((others + 2) % 3), 0) ||
      flatOverlap()
    );
  for (let k = 0; k < 3; k++)
    if (edgeThrough(k, (k + 1) % 3, 3) || edgeThrough(3 + k, 3 + ((k + 1) % 3), 0)) return true;
  return flatOverlap();
}

function edgeThrough(i: i32, j: i32, base: i32): bool {
  const from = volume(base, base + 1, base + 2, i);
  const to = volume(base, base + 1, base + 2, j);
  if (from * to >= 0) return false;
  const u = volume(i, j, base, base + 1);
  const v = volume(i, j, base + 1, base + 2);
  const w = volume(i, j, base + 2, base);
  if (!((u >= 0 && v >= 0 && w >= 0) || (u <= 0 && v <= 0 && w <= 0))) return false;
  if (u === 0 && v === 0 && w === 0) return false;
  const f = from / (from - to);
  return layPoint(
    local(i, 0) + f * (local(j, 0) - local(i, 0)),
    local(i, 1) + f * (local(j, 1) - local(i, 1)),
    local(i, 2) + f * (local(j, 2) - local(i, 2)),
  );
}

function isCornerOf(v: i32, base: i32): bool {
  return v === cornerVertex(base) || v === cornerVertex(base + 1) || v === cornerVertex(base + 2);
}

function foldedOver(): bool {
  let apexA = -1;
  let apexB = -1;
  for (let i = 2; i >= 0; i--) {
    if (!isCornerOf(cornerVertex(i), 3)) apexA = i;
    if (!isCornerOf(cornerVertex(3 + i), 0)) apexB = 3 + i;
  }
  if (apexA < 0 || apexB < 0) return false;
  const e0 = apexA === 0 ? 1 : 0;
  const e1 = apexA === 2 ? 1 : 2;
  if (volume(e0, e1, apexA, apexB) !== 0) return false;
  layCross(N, e0, e1, apexA);
  layCross(M, e0, e1, apexB);
  if (dot(xOf(N), yOf(N), zOf(N), xOf(M), yOf(M), zOf(M)) <= FLAT) return false;
  return layPoint(
    (local(e0, 0) + local(e1, 0)) / 2,
    (local(e0, 1) + local(e1, 1)) / 2,
    (local(e0, 2) + local(e1, 2)) / 2,
  );
}

function flatOverlap(): bool {
  for (let k = 3; k < 6; k++) if (volume(0, 1, 2, k) !== 0) return false;
  layCross(N, 0, 1, 2);
  layCross(M, 3, 4, 5);
  if (isNought(N) || isNought(M)) return false;
  let drop = 0;
  for (let k = 1; k < 3; k++)
    if (abs(load<f64>(N + ((<usize>k) << 3))) > abs(load<f64>(N + ((<usize>drop) << 3)))) drop = k;
  const u = (drop + 1) % 3;
  const v = (drop + 2) % 3;
  for (let k = 0; k < 3; k++) {
    if (parts(k, (k + 1) % 3, (k + 2) % 3, 3, u, v)) return false;
    if (parts(3 + k, 3 + ((k + 1) % 3), 3 + ((k + 2) % 3), 0, u, v)) return false;
  }
  return layPoint(
    (local(0, 0) + local(1, 0) + local(2, 0)) / 3,
    (local(0, 1) + local(1, 1) + local(2, 1)) / 3,
    (local(0, 2) + local(1, 2) + local(2, 2)) / 3,
  );
}

function isNought(a: usize): bool {
  return abs(xOf(a)) < FLAT && abs(yOf(a)) < FLAT && abs(zOf(a)) < FLAT;
}

function parts(i: i32, j: i32, own: i32, other: i32, u: i32, v: i32): bool {
  const h = side(i, j, own, u, v);
  const inner: f64 = h > 0 ? 1 : h < 0 ? -1 : 0;
  for (let q = other; q < other + 3; q++) if (!(side(i, j, q, u, v) * inner <= 1e-9)) return false;
  return true;
}

function side(i: i32, j: i32, q: i32, u: i32, v: i32): f64 {
  return (
    (local(j, u) - local(i, u)) * (local(q, v) - local(i, v)) -
    (local(j, v) - local(i, v)) * (local(q, u) - local(i, u))
  );
}
