// AssemblyScript, built by src/build/assemble.mjs: the search for crossing triangles. src/mesh/self-intersection.ts lays out the memory,
// and src/mesh/triangle-tree.ts and triangle-crossing.ts hold the plain version of the same: trees, order of pairs and points are the
// same in both, to the last bit.

const LEAF: i32 = 4;
const ROUNDED: f64 = 6e-8;
const FLAT: f64 = 1e-12;
/** Scratch at the start of the memory: six corners with their vertices, planes of two triangles, normals. */
const P: usize = 0;
const CORNERS: usize = 144;
const PLANE: usize = 168;
const OTHER: usize = 200;
const NORMAL: usize = 232;
const N: usize = 256;
const M: usize = 280;

let positions: usize = 0;
let triangles: usize = 0;
let count: i32 = 0;
let order: usize = 0;
let boxes: usize = 0;
let bounds: usize = 0;
let leafCount: i32 = 0;
let firstLeaf: i32 = 1;
let noise: f64 = 0;
let originX: f64 = 0;
let originY: f64 = 0;
let originZ: f64 = 0;
let size: f64 = 0;
let x: f64 = 0;
let y: f64 = 0;
let z: f64 = 0;
/** 1: more crossing pairs than asked for; 2: abandoned. */
let ended: i32 = 0;

export function endedEarly(): i32 {
  return ended;
}

function corner(t: i32, k: i32): usize {
  return positions + 24 * <usize>load<u32>(triangles + ((<usize>(3 * t + k)) << 2));
}

function vertex(t: i32, k: i32): u32 {
  return load<u32>(triangles + ((<usize>(3 * t + k)) << 2));
}

/**
 * Searches `n` triangles. `codesAt`: room for 3 numbers a triangle; `boxesAt`, `boundsAt`: for 6 floats a triangle and a box of the
 * tree; `stackAt`: pending pairs; `foundAt`: room for `most` crossings, two triangles and a point each. Returns how many it found.
 */
export function search(
  positionsAt: usize,
  vertices: i32,
  trianglesAt: usize,
  n: i32,
  codesAt: usize,
  boxesAt: usize,
  boundsAt: usize,
  stackAt: usize,
  foundAt: usize,
  most: i32,
  pairs: f64,
): i32 {
  positions = positionsAt;
  triangles = trianglesAt;
  count = n;
  boxes = boxesAt;
  bounds = boundsAt;
  ended = 0;
  let reach: f64 = 0;
  for (let i = 0; i < 3 * vertices; i++) reach = max(reach, abs(load<f64>(positions + ((<usize>i) << 3))));
  noise = 1e-14 * reach;
  layOrder(codesAt);
  layBoxes();
  layBounds();
  return visit(stackAt, foundAt, most, pairs);
}

function centre(t: i32, k: i32): f64 {
  const o = (<usize>k) << 3;
  return load<f64>(corner(t, 0) + o) + load<f64>(corner(t, 1) + o) + load<f64>(corner(t, 2) + o);
}

function layOrder(codes: usize): void {
  let x0 = Infinity;
  let y0 = Infinity;
  let z0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  let z1 = -Infinity;
  for (let t = 0; t < count; t++) {
    const cx = centre(t, 0);
    const cy = centre(t, 1);
    const cz = centre(t, 2);
    x0 = min(x0, cx);
    x1 = max(x1, cx);
    y0 = min(y0, cy);
    y1 = max(y1, cy);
    z0 = min(z0, cz);
    z1 = max(z1, cz);
  }
  const extent = max(max(x1 - x0, y1 - y0), z1 - z0);
  const factor = extent > 0 ? 1023.0 / extent : 0;
  const bytes = (<usize>count) << 2;
  let from = codes + bytes;
  let to = from + bytes;
  for (let t = 0; t < count; t++) {
    const at = (<usize>t) << 2;
    store<u32>(
      codes + at,
      spread(<i32>((centre(t, 0) - x0) * factor)) |
        (spread(<i32>((centre(t, 1) - y0) * factor)) << 1) |
        (spread(<i32>((centre(t, 2) - z0) * factor)) << 2),
    );
    store<u32>(from + at, t);
  }
  // the boxes are laid later: their room counts the digits
  const start = boxes;
  for (let shift = 0; shift < 30; shift += 10) {
    memory.fill(start, 0, 4100);
    for (let i = 0; i < count; i++) {
      const d = start + ((<usize>(((load<u32>(codes + ((<usize>i) << 2)) >>> shift) & 1023) + 1)) << 2);
      store<u32>(d, load<u32>(d) + 1);
    }
    for (let d: usize = 0; d < 4096; d += 4)
      store<u32>(start + d, load<u32>(start + d) + load<u32>(start + d + 4), 4);
    for (let i = 0; i < count; i++) {
      const t = load<u32>(from + ((<usize>i) << 2));
      const d = start + ((<usize>((load<u32>(codes + ((<usize>t) << 2)) >>> shift) & 1023)) << 2);
      const place = load<u32>(d);
      store<u32>(d, place + 1);
      store<u32>(to + ((<usize>place) << 2), t);
    }
    const swap = from;
    from = to;
    to = swap;
  }
  order = from;
}

function spread(value: i32): u32 {
  let v: u32 = value & 1023;
  v = (v | (v << 16)) & 0x30000ff;
  v = (v | (v << 8)) & 0x300f00f;
  v = (v | (v << 4)) & 0x30c30c3;
  return (v | (v << 2)) & 0x9249249;
}

function triangleAt(i: i32): i32 {
  return load<i32>(order + ((<usize>i) << 2));
}

function layBoxes(): void {
  for (let i = 0; i < count; i++) {
    const t = triangleAt(i);
    const b = boxes + 24 * <usize>i;
    const p = corner(t, 0);
    const q = corner(t, 1);
    const r = corner(t, 2);
    const isPoint = p === q || q === r || r === p;
    for (let k: usize = 0; k < 3; k++) {
      const one = load<f64>(p + (k << 3));
      const two = load<f64>(q + (k << 3));
      const three = load<f64>(r + (k << 3));
      const low = min(min(one, two), three);
      const high = max(max(one, two), three);
      store<f32>(b + (k << 2), <f32>(isPoint ? NaN : low - ROUNDED * abs(low)));
      store<f32>(b + (k << 2), <f32>(isPoint ? NaN : high + ROUNDED * abs(high)), 12);
    }
  }
}

function layBounds(): void {
  leafCount = (count + LEAF - 1) / LEAF;
  firstLeaf = 1;
  while (firstLeaf < leafCount) {
    firstLeaf *= 2;
  }
  for (let n = 0; n < 2 * firstLeaf; n++) {
    const b = bounds + 24 * <usize>n;
    for (let k: usize = 0; k < 12; k += 4) {
      store<f32>(b + k, <f32>Infinity);
      store<f32>(b + k, <f32>-Infinity, 12);
    }
  }
  for (let i = 0; i < count; i++) {
    const b = bounds + 24 * <usize>(firstLeaf + i / LEAF);
    const own = boxes + 24 * <usize>i;
    for (let k: usize = 0; k < 12; k += 4) {
      const low = load<f32>(own + k);
      const high = load<f32>(own + k, 12);
      if (low < load<f32>(b + k)) store<f32>(b + k, low);
      if (high > load<f32>(b + k, 12)) store<f32>(b + k, high, 12);
    }
  }
  for (let n = firstLeaf - 1; n >= 1; n--) {
    const b = bounds + 24 * <usize>n;
    const part = bounds + 48 * <usize>n;
    for (let k: usize = 0; k < 12; k += 4) {
      store<f32>(b + k, min(load<f32>(part + k), load<f32>(part + k, 24)));
      store<f32>(b + k, max(load<f32>(part + k, 12), load<f32>(part + k, 36)), 12);
    }
  }
}

function meets(a: usize, b: usize): bool {
  return (
    load<f32>(a) <= load<f32>(b, 12) &&
    load<f32>(a, 12) >= load<f32>(b) &&
    load<f32>(a, 4) <= load<f32>(b, 16) &&
    load<f32>(a, 16) >= load<f32>(b, 4) &&
    load<f32>(a, 8) <= load<f32>(b, 20) &&
    load<f32>(a, 20) >= load<f32>(b, 8)
  );
}

function visit(stack: usize, foundAt: usize, most: i32, pairs: f64): i32 {
  let found = 0;
  let budget = pairs;
  let planeOf = -1;
  let top = stack;
  store<i32>(top, 1);
  store<i32>(top, 1, 4);
  top += 8;
  while (top > stack) {
    top -= 8;
    const a = load<i32>(top);
    const b = load<i32>(top, 4);
    if (a < firstLeaf) {
      for (let p = 2 * a + 1; p >= 2 * a; p--)
        for (let q = 2 * b + 1; q >= (a === b ? p : 2 * b); q--) {
          if (!meets(bounds + 24 * <usize>p, bounds + 24 * <usize>q)) continue;
          store<i32>(top, p);
          store<i32>(top, q, 4);
          top += 8;
        }
      continue;
    }
    const from = LEAF * (a - firstLeaf);
    const to = min(count, from + LEAF);
    const otherFrom = LEAF * (b - firstLeaf);
    const otherTo = min(count, otherFrom + LEAF);
    budget -= <f64>((to - from) * (otherTo - otherFrom));
    if (budget < 0) {
      ended = 2;
      return found;
    }
    for (let i = from; i < to; i++) {
      const own = boxes + 24 * <usize>i;
      if (a !== b && !meets(bounds + 24 * <usize>b, own)) continue;
      const s = triangleAt(i);
      for (let j = a === b ? i + 1 : otherFrom; j < otherTo; j++) {
        if (!meets(own, boxes + 24 * <usize>j)) continue;
        const t = triangleAt(j);
        if (planeOf !== s) layPlane(s, PLANE);
        planeOf = s;
        if (isOnOneSide(PLANE, s, t)) continue;
        layPlane(t, OTHER);
        if (isOnOneSide(OTHER, t, s)) continue;
        const low = min(s, t);
        const high = max(s, t);
        if (!cross(low, high)) continue;
        if (found === most) {
          ended = 1;
          return found;
        }
        const f = foundAt + 32 * <usize>found;
        found++;
        store<i32>(f, low);
        store<i32>(f, high, 4);
        store<f64>(f, x, 8);
        store<f64>(f, y, 16);
        store<f64>(f, z, 24);
      }
    }
  }
  return found;
}

function layPlane(t: i32, plane: usize): void {
  const p = corner(t, 0);
  const q = corner(t, 1);
  const r = corner(t, 2);
  const px = load<f64>(p);
  const py = load<f64>(p, 8);
  const pz = load<f64>(p, 16);
  const ux = load<f64>(q) - px;
  const uy = load<f64>(q, 8) - py;
  const uz = load<f64>(q, 16) - pz;
  const vx = load<f64>(r) - px;
  const vy = load<f64>(r, 8) - py;
  const vz = load<f64>(r, 16) - pz;
  const nx = uy * vz - uz * vy;
  const ny = uz * vx - ux * vz;
  const nz = ux * vy - uy * vx;
  store<f64>(plane, nx);
  store<f64>(plane, ny, 8);
  store<f64>(plane, nz, 16);
  store<f64>(plane, nx * px + ny * py + nz * pz, 24);
}

function isOnOneSide(plane: usize, s: i32, t: i32): bool {
  const a = vertex(s, 0);
  const b = vertex(s, 1);
  const c = vertex(s, 2);
  const nx = load<f64>(plane);
  const ny = load<f64>(plane, 8);
  const nz = load<f64>(plane, 16);
  const d = load<f64>(plane, 24);
  const least = noise * (abs(nx) + abs(ny) + abs(nz));
  let side = 0;
  for (let k = 0; k < 3; k++) {
    const v = vertex(t, k);
    if (v === a || v === b || v === c) continue;
    const p = corner(t, k);
    const h = nx * load<f64>(p) + ny * load<f64>(p, 8) + nz * load<f64>(p, 16) - d;
    if (h > least && side >= 0) side = 1;
    else if (h < -least && side <= 0) side = -1;
    else return false;
  }
  return true;
}

function cornerVertex(i: i32): u32 {
  return load<u32>(CORNERS + ((<usize>i) << 2));
}

/** Whether triangles s and t cross or overlap; lays the point. */
function cross(s: i32, t: i32): bool {
  let shared = 0;
  let mine = -1;
  let others = -1;
  for (let i = 0; i < 3; i++) {
    store<u32>(CORNERS + ((<usize>i) << 2), vertex(s, i));
    store<u32>(CORNERS + ((<usize>i) << 2), vertex(t, i), 12);
  }
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

function local(i: i32, k: i32): f64 {
  return load<f64>(P + ((<usize>(3 * i + k)) << 3));
}

function layLocal(): void {
  const first = positions + 24 * <usize>cornerVertex(0);
  originX = load<f64>(first);
  originY = load<f64>(first, 8);
  originZ = load<f64>(first, 16);
  size = 0;
  for (let i = 0; i < 6; i++) {
    const v = positions + 24 * <usize>cornerVertex(i);
    const p = P + 24 * <usize>i;
    const lx = load<f64>(v) - originX;
    const ly = load<f64>(v, 8) - originY;
    const lz = load<f64>(v, 16) - originZ;
    store<f64>(p, lx);
    store<f64>(p, ly, 8);
    store<f64>(p, lz, 16);
    size = max(max(size, abs(lx)), max(abs(ly), abs(lz)));
  }
  if (size > 0) for (let i: usize = P; i < 144; i += 8) store<f64>(i, load<f64>(i) / size);
}

function layPoint(lx: f64, ly: f64, lz: f64): bool {
  x = originX + size * lx;
  y = originY + size * ly;
  z = originZ + size * lz;
  return true;
}

function volume(a: i32, b: i32, c: i32, d: i32): f64 {
  layCross(NORMAL, a, b, c);
  const w =
    load<f64>(NORMAL) * (local(d, 0) - local(a, 0)) +
    load<f64>(NORMAL, 8) * (local(d, 1) - local(a, 1)) +
    load<f64>(NORMAL, 16) * (local(d, 2) - local(a, 2));
  return abs(w) < FLAT ? 0 : w;
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

function isCornerOf(v: u32, base: i32): bool {
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
  const along =
    load<f64>(N) * load<f64>(M) + load<f64>(N, 8) * load<f64>(M, 8) + load<f64>(N, 16) * load<f64>(M, 16);
  if (along <= FLAT) return false;
  return layPoint(
    (local(e0, 0) + local(e1, 0)) / 2,
    (local(e0, 1) + local(e1, 1)) / 2,
    (local(e0, 2) + local(e1, 2)) / 2,
  );
}

function layCross(into: usize, a: i32, b: i32, c: i32): void {
  const ux = local(b, 0) - local(a, 0);
  const uy = local(b, 1) - local(a, 1);
  const uz = local(b, 2) - local(a, 2);
  const vx = local(c, 0) - local(a, 0);
  const vy = local(c, 1) - local(a, 1);
  const vz = local(c, 2) - local(a, 2);
  store<f64>(into, uy * vz - uz * vy);
  store<f64>(into, uz * vx - ux * vz, 8);
  store<f64>(into, ux * vy - uy * vx, 16);
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
  return abs(load<f64>(a)) < FLAT && abs(load<f64>(a, 8)) < FLAT && abs(load<f64>(a, 16)) < FLAT;
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
