// AssemblyScript, built by src/build/assemble.mjs: what is done with every mesh before it is measured or printed. src/mesh/mesh-kernel.ts
// lays out the memory; the plain versions of the same are named at each function, and results are the same in both, to the last bit.

/** As in src/mesh/edge-pairing.ts. */
const RIM: i32 = -1;
const UNPAIRED: i32 = -2;
const END: i32 = -1;

function word(at: usize, i: i32): i32 {
  return load<i32>(at + ((<usize>i) << 2));
}

function setWord(at: usize, i: i32, value: i32): void {
  store<i32>(at + ((<usize>i) << 2), value);
}

/** The next half-edge of the same triangle. */
function after(h: i32): i32 {
  return h % 3 === 2 ? h - 2 : h + 1;
}

function pointOf(positions: usize, v: i32): usize {
  return positions + 24 * <usize>v;
}

/**
 * `joinPlainly` of src/mesh/weld.ts: numbers the vertices in the order in which `corners` corners use them, equal ones alike, and moves them to their
 * places. `numbers`: room for a number per vertex; `table`: for `slots` numbers, a power of two; `joined`: for the distinct points.
 * Returns how many points are distinct; `usedVertices` tells how many vertices were used.
 */
export function join(
  positions: usize,
  vertices: i32,
  triangles: usize,
  corners: i32,
  numbers: usize,
  table: usize,
  slots: i32,
  joined: usize,
): i32 {
  memory.fill(numbers, 0xff, (<usize>vertices) << 2);
  memory.fill(table, 0xff, (<usize>slots) << 2);
  const mask = slots - 1;
  let count = 0;
  used = 0;
  for (let i = 0; i < corners; i++) {
    const v = word(triangles, i);
    let n = word(numbers, v);
    if (n < 0) {
      used++;
      const p = pointOf(positions, v);
      const x = load<f64>(p);
      const y = load<f64>(p, 8);
      const z = load<f64>(p, 16);
      let slot = hash(x, y, z) & mask;
      for (n = word(table, slot); n >= 0; n = word(table, slot)) {
        const q = pointOf(joined, n);
        if (load<f64>(q) === x && load<f64>(q, 8) === y && load<f64>(q, 16) === z) break;
        slot = (slot + 1) & mask;
      }
      if (n < 0) {
        n = count++;
        setWord(table, slot, n);
        const q = pointOf(joined, n);
        store<f64>(q, x);
        store<f64>(q, y, 8);
        store<f64>(q, z, 16);
      }
      setWord(numbers, v, n);
    }
    setWord(triangles, i, n);
  }
  return count;
}

let used: i32 = 0;

export function usedVertices(): i32 {
  return used;
}

function hash(x: f64, y: f64, z: f64): i32 {
  let h = mixed(mixed(mixed(0, x), y), z);
  h *= 0x85ebca6b;
  return <i32>(h ^ (h >>> 13));
}

function mixed(start: u32, value: f64): u32 {
  // the sign of a zero does not count
  const bits = value === 0 ? 0 : reinterpret<u64>(value);
  let h = (start ^ <u32>bits) * 0x9e3779b1;
  h ^= h >>> 15;
  h = (h ^ <u32>(bits >>> 32)) * 0x9e3779b1;
  return h ^ (h >>> 15);
}

let edges: i32 = 0;
let shared: i32 = 0;
let isConsistent: bool = true;
let components: i32 = 0;

export function edgeCount(): i32 {
  return edges;
}

/** Edges used by more than two triangles. */
export function sharedCount(): i32 {
  return shared;
}

export function isPairedConsistently(): bool {
  return isConsistent;
}

export function componentCount(): i32 {
  return components;
}

/**
 * `pairPlainly` of src/mesh/edge-pairing.ts. `heads`, `firstUses`: room for a number per vertex; `twins`: per half-edge; `parents`: per
 * triangle, then the component of each; `sharedAt`: two vertices for each edge used more than twice; `sizes`: triangles of each component.
 */
export function pair(
  triangles: usize,
  halfEdges: i32,
  vertices: i32,
  heads: usize,
  firstUses: usize,
  twins: usize,
  parents: usize,
  sharedAt: usize,
  sizes: usize,
): void {
  memory.fill(heads, 0xff, (<usize>vertices) << 2);
  memory.fill(firstUses, 0xff, (<usize>vertices) << 2);
  for (let t = halfEdges - 3; t >= 0; t -= 3) {
    const a = word(triangles, t);
    const b = word(triangles, t + 1);
    const c = word(triangles, t + 2);
    if (a === b || b === c || c === a) {
      for (let k = 0; k < 3; k++) setWord(twins, t + k, UNPAIRED);
      continue;
    }
    chain(heads, twins, min(c, a), t + 2);
    chain(heads, twins, min(b, c), t + 1);
    chain(heads, twins, min(a, b), t);
  }
  const count = halfEdges / 3;
  for (let t = 0; t < count; t++) setWord(parents, t, t);
  edges = 0;
  shared = 0;
  isConsistent = true;
  for (let low = 0; low < vertices; low++) {
    for (let h = word(heads, low), following = END; h !== END; h = following) {
      following = word(twins, h);
      setWord(twins, h, RIM);
      const from = word(triangles, h);
      const high = from === low ? word(triangles, after(h)) : from;
      const g = word(firstUses, high);
      const other = g === END ? END : word(triangles, g);
      // what an earlier chain left behind is of another edge
      if (g === END || (other !== low && word(triangles, after(g)) !== low)) {
        setWord(firstUses, high, h);
        edges++;
        continue;
      }
      unite(parents, h / 3, g / 3);
      const known = word(twins, g);
      if (known === RIM) {
        setWord(twins, g, h);
        setWord(twins, h, g);
        if (other === from) isConsistent = false;
      } else {
        if (known >= 0) {
          setWord(twins, known, UNPAIRED);
          setWord(twins, g, UNPAIRED);
          setWord(sharedAt, 2 * shared, low);
          setWord(sharedAt, 2 * shared + 1, high);
          shared++;
        }
        setWord(twins, h, UNPAIRED);
      }
    }
  }
  numberComponents(parents, count, sizes);
}

function chain(heads: usize, twins: usize, low: i32, h: i32): void {
  setWord(twins, h, word(heads, low));
  setWord(heads, low, h);
}

function root(parents: usize, start: i32): i32 {
  let t = start;
  while (true) {
    const above = word(parents, t);
    if (above === t) return t;
    const next = word(parents, above);
    setWord(parents, t, next);
    t = next;
  }
}

/** The smaller triangle becomes the root, so numbering does not depend on the order of the edges. */
function unite(parents: usize, s: i32, t: i32): void {
  const a = root(parents, s);
  const b = root(parents, t);
  if (a < b) setWord(parents, b, a);
  else setWord(parents, a, b);
}

/** The parent of a triangle that is no root comes before it and has its number already. */
function numberComponents(parents: usize, count: i32, sizes: usize): void {
  components = 0;
  for (let t = 0; t < count; t++) {
    const above = word(parents, t);
    let id: i32;
    if (above === t) {
      id = components++;
      setWord(sizes, id, 0);
    } else {
      id = word(parents, above);
    }
    setWord(parents, t, id);
    setWord(sizes, id, word(sizes, id) + 1);
  }
}

/** `isFreePlainly` of src/mesh/weld.ts. */
export function isFreeOfCopies(twins: usize, halfEdges: i32): bool {
  for (let h = 0; h < halfEdges; h += 3) {
    const a = word(twins, h);
    const b = word(twins, h + 1);
    const c = word(twins, h + 2);
    if (a === UNPAIRED || b === UNPAIRED || c === UNPAIRED) return false;
    const s = facing(a);
    const t = facing(b);
    const u = facing(c);
    if ((s >= 0 && (s === t || s === u)) || (t >= 0 && t === u)) return false;
  }
  return true;
}

function facing(twin: i32): i32 {
  return twin < 0 ? RIM : twin / 3;
}

/** `degeneratePlainly` of src/mesh/topology.ts: lists them at `found`, returns how many they are. */
export function degenerate(positions: usize, triangles: usize, corners: i32, limit: f64, found: usize): i32 {
  let count = 0;
  for (let t = 0; t < corners; t += 3) {
    const a = pointOf(positions, word(triangles, t));
    const b = pointOf(positions, word(triangles, t + 1));
    const c = pointOf(positions, word(triangles, t + 2));
    const ux = load<f64>(b) - load<f64>(a);
    const uy = load<f64>(b, 8) - load<f64>(a, 8);
    const uz = load<f64>(b, 16) - load<f64>(a, 16);
    const vx = load<f64>(c) - load<f64>(a);
    const vy = load<f64>(c, 8) - load<f64>(a, 8);
    const vz = load<f64>(c, 16) - load<f64>(a, 16);
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    const uu = ux * ux + uy * uy + uz * uz;
    const vv = vx * vx + vy * vy + vz * vz;
    const wx = vx - ux;
    const wy = vy - uy;
    const wz = vz - uz;
    const ww = wx * wx + wy * wy + wz * wz;
    let longest = max(uu, vv);
    if (ww > longest) longest = ww;
    if (nx * nx + ny * ny + nz * nz <= limit * longest * longest) setWord(found, count++, t / 3);
  }
  return count;
}

/**
 * `pinchedPlainly` of src/mesh/topology.ts: lists them at `found`, returns how many they are. `seen`: a byte per corner; `fans`: a byte
 * per vertex.
 */
export function pinched(
  triangles: usize,
  twins: usize,
  corners: i32,
  vertices: i32,
  seen: usize,
  fans: usize,
  found: usize,
): i32 {
  memory.fill(seen, 0, corners);
  memory.fill(fans, 0, vertices);
  for (let c = 0; c < corners; c++) {
    if (load<u8>(seen + <usize>c) || word(twins, c) === UNPAIRED) continue;
    store<u8>(seen + <usize>c, 1);
    const v = word(triangles, c);
    const fan = load<u8>(fans + <usize>v);
    if (fan < 2) store<u8>(fans + <usize>v, fan + 1);
    turn(triangles, twins, seen, c, v, false);
    turn(triangles, twins, seen, c, v, true);
  }
  let count = 0;
  for (let v = 0; v < vertices; v++) if (load<u8>(fans + <usize>v) > 1) setWord(found, count++, v);
  return count;
}

function turn(triangles: usize, twins: usize, seen: usize, corner: i32, pivot: i32, backwards: bool): void {
  let c = corner;
  let back = backwards;
  while (true) {
    const t = c - (c % 3);
    const previous = c === t ? t + 2 : c - 1;
    const h = word(twins, back ? previous : c);
    if (h < 0) return;
    const startsAtPivot = word(triangles, h) === pivot;
    c = startsAtPivot ? h : after(h);
    if (load<u8>(seen + <usize>c)) return;
    store<u8>(seen + <usize>c, 1);
    back = startsAtPivot;
  }
}

/**
 * `signsPlainly` of src/mesh/orient.ts: a signed byte per triangle at `signs`. `queue`: room for a number per triangle; `oneSided`: two
 * vertices for each edge across which no orientation agrees. Returns how many these are.
 */
export function agree(
  triangles: usize,
  twins: usize,
  count: i32,
  signs: usize,
  queue: usize,
  oneSided: usize,
): i32 {
  memory.fill(signs, 0, count);
  let failures = 0;
  for (let first = 0; first < count; first++) {
    if (load<i8>(signs + <usize>first)) continue;
    store<i8>(signs + <usize>first, 1);
    let head = 0;
    let tail = 0;
    setWord(queue, tail++, first);
    while (head < tail) {
      const t = word(queue, head++);
      const own = load<i8>(signs + <usize>t);
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const g = word(twins, h);
        if (g < 0) continue;
        const s = g / 3;
        const agreeing: i8 = word(triangles, g) === word(triangles, h) ? -own : own;
        const sign = load<i8>(signs + <usize>s);
        if (!sign) {
          store<i8>(signs + <usize>s, agreeing);
          setWord(queue, tail++, s);
        } else if (sign !== agreeing && g > h) {
          setWord(oneSided, 2 * failures, word(triangles, h));
          setWord(oneSided, 2 * failures + 1, word(triangles, after(h)));
          failures++;
        }
      }
    }
  }
  return failures;
}

/** `volumesPlainly` of src/mesh/orient.ts; `volumes`: a number per component. */
export function volumesOf(
  positions: usize,
  triangles: usize,
  count: i32,
  signs: usize,
  component: usize,
  ox: f64,
  oy: f64,
  oz: f64,
  volumes: usize,
  componentsThere: i32,
): void {
  memory.fill(volumes, 0, (<usize>componentsThere) << 3);
  for (let t = 0; t < count; t++) {
    const a = pointOf(positions, word(triangles, 3 * t));
    const b = pointOf(positions, word(triangles, 3 * t + 1));
    const c = pointOf(positions, word(triangles, 3 * t + 2));
    const x = load<f64>(c) - ox;
    const y = load<f64>(c, 8) - oy;
    const z = load<f64>(c, 16) - oz;
    const ax = load<f64>(a) - ox;
    const ay = load<f64>(a, 8) - oy;
    const az = load<f64>(a, 16) - oz;
    const bx = load<f64>(b) - ox;
    const by = load<f64>(b, 8) - oy;
    const bz = load<f64>(b, 16) - oz;
    const part = (ay * bz - az * by) * x + (az * bx - ax * bz) * y + (ax * by - ay * bx) * z;
    const into = volumes + ((<usize>word(component, t)) << 3);
    store<f64>(into, load<f64>(into) + (<f64>load<i8>(signs + <usize>t) * part) / 6);
  }
}

/** `boxPlainly` of src/mesh/measures.ts: low and high corner at `out`. `isUsed`: a byte per vertex. */
export function boxOf(
  positions: usize,
  vertices: i32,
  triangles: usize,
  corners: i32,
  isUsed: usize,
  out: usize,
): void {
  memory.fill(isUsed, corners === 0 ? 1 : 0, vertices);
  for (let i = 0; i < corners; i++) store<u8>(isUsed + <usize>word(triangles, i), 1);
  let x0 = Infinity;
  let y0 = Infinity;
  let z0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  let z1 = -Infinity;
  for (let v = 0; v < vertices; v++) {
    if (!load<u8>(isUsed + <usize>v)) continue;
    const p = pointOf(positions, v);
    const x = load<f64>(p);
    const y = load<f64>(p, 8);
    const z = load<f64>(p, 16);
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
    if (z < z0) z0 = z;
    if (z > z1) z1 = z;
  }
  store<f64>(out, x0);
  store<f64>(out, y0, 8);
  store<f64>(out, z0, 16);
  store<f64>(out, x1, 24);
  store<f64>(out, y1, 32);
  store<f64>(out, z1, 40);
}

/** `measurePlainly` of src/mesh/measures.ts for all triangles: six times the volume and twice the area, at `out`. */
export function measured(
  positions: usize,
  triangles: usize,
  corners: i32,
  ox: f64,
  oy: f64,
  oz: f64,
  out: usize,
): void {
  let six: f64 = 0;
  let twice: f64 = 0;
  for (let t = 0; t < corners; t += 3) {
    const a = pointOf(positions, word(triangles, t));
    const b = pointOf(positions, word(triangles, t + 1));
    const c = pointOf(positions, word(triangles, t + 2));
    const ax = load<f64>(a) - ox;
    const ay = load<f64>(a, 8) - oy;
    const az = load<f64>(a, 16) - oz;
    const ux = load<f64>(b) - ox - ax;
    const uy = load<f64>(b, 8) - oy - ay;
    const uz = load<f64>(b, 16) - oz - az;
    const vx = load<f64>(c) - ox - ax;
    const vy = load<f64>(c, 8) - oy - ay;
    const vz = load<f64>(c, 16) - oz - az;
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    six += ax * nx + ay * ny + az * nz;
    twice += sqrt(nx * nx + ny * ny + nz * nz);
  }
  store<f64>(out, six);
  store<f64>(out, twice, 8);
}

/** `crowdingPlainly` of src/mesh/winding-field.ts. */
export function crowded(positions: usize, triangles: usize, corners: i32): f64 {
  let x0 = Infinity;
  let y0 = Infinity;
  let z0 = Infinity;
  let x1 = -Infinity;
  let y1 = -Infinity;
  let z1 = -Infinity;
  let sum: f64 = 0;
  for (let t = 0; t < corners; t += 3) {
    const a = pointOf(positions, word(triangles, t));
    const b = pointOf(positions, word(triangles, t + 1));
    const c = pointOf(positions, word(triangles, t + 2));
    const left = min(min(load<f64>(a), load<f64>(b)), load<f64>(c));
    const right = max(max(load<f64>(a), load<f64>(b)), load<f64>(c));
    const front = min(min(load<f64>(a, 8), load<f64>(b, 8)), load<f64>(c, 8));
    const back = max(max(load<f64>(a, 8), load<f64>(b, 8)), load<f64>(c, 8));
    const low = min(min(load<f64>(a, 16), load<f64>(b, 16)), load<f64>(c, 16));
    const high = max(max(load<f64>(a, 16), load<f64>(b, 16)), load<f64>(c, 16));
    if (left < x0) x0 = left;
    if (right > x1) x1 = right;
    if (front < y0) y0 = front;
    if (back > y1) y1 = back;
    if (low < z0) z0 = low;
    if (high > z1) z1 = high;
    sum += boxArea(right - left, back - front, high - low);
  }
  const whole = boxArea(x1 - x0, y1 - y0, z1 - z0);
  return whole > 0 ? sum / whole : 0;
}

function boxArea(x: f64, y: f64, z: f64): f64 {
  return x * y + y * z + z * x;
}

/**
 * `inOrderPlainly` of src/mesh/in-order-of-use.ts: numbers the vertices in the order in which `corners` corners use them and moves them to
 * `moved`. `numbers`: room for a number per vertex. Returns how many are used.
 */
export function order(
  positions: usize,
  vertices: i32,
  triangles: usize,
  corners: i32,
  numbers: usize,
  moved: usize,
): i32 {
  memory.fill(numbers, 0xff, (<usize>vertices) << 2);
  let count = 0;
  for (let i = 0; i < corners; i++) {
    const v = word(triangles, i);
    let n = word(numbers, v);
    if (n < 0) {
      n = count++;
      setWord(numbers, v, n);
      memory.copy(pointOf(moved, n), pointOf(positions, v), 24);
    }
    setWord(triangles, i, n);
  }
  return count;
}

/** `onGridPlainly` of src/page/quantise.ts: steps of each coordinate from the corner of the grid, at most 65 535, in 16 bits at `out`. */
export function grid(
  positions: usize,
  vertices: i32,
  ox: f64,
  oy: f64,
  oz: f64,
  step: f64,
  out: usize,
): void {
  for (let v = 0; v < vertices; v++) {
    const p = pointOf(positions, v);
    const o = out + 6 * <usize>v;
    store<u16>(o, stepOf((load<f64>(p) - ox) / step));
    store<u16>(o, stepOf((load<f64>(p, 8) - oy) / step), 2);
    store<u16>(o, stepOf((load<f64>(p, 16) - oz) / step), 4);
  }
}

/** Halves are rounded up. */
function stepOf(steps: f64): u16 {
  if (!(steps >= 0)) return 0;
  const whole = floor(steps);
  return <u16>(<i32>min(65535, steps - whole >= 0.5 ? whole + 1 : whole));
}

/**
 * `areApartPlainly` of src/mesh/write-3mf.ts with five digits: 1 if no two vertices get the same text, 0 if two do, 2 if a coordinate
 * needs another way of rounding. `table`: room for `slots` numbers, a power of two; the positions are overwritten.
 */
export function apart(positions: usize, vertices: i32, table: usize, slots: i32): i32 {
  memory.fill(table, 0xff, (<usize>slots) << 2);
  const mask = slots - 1;
  const end = pointOf(positions, vertices);
  for (let p = positions; p < end; p += 8) {
    const value = load<f64>(p);
    if (!(abs(value) < 20000) || <f64>(<f32>value) !== value) return 2;
    store<f64>(p, copysign(floor(abs(value) * 100000 + 0.5) / 100000, value));
  }
  for (let v = 0; v < vertices; v++) {
    const p = pointOf(positions, v);
    const x = load<f64>(p);
    const y = load<f64>(p, 8);
    const z = load<f64>(p, 16);
    let slot = hash(x, y, z) & mask;
    for (let n = word(table, slot); n >= 0; n = word(table, slot)) {
      const q = pointOf(positions, n);
      if (load<f64>(q) === x && load<f64>(q, 8) === y && load<f64>(q, 16) === z) return 0;
      slot = (slot + 1) & mask;
    }
    setWord(table, slot, v);
  }
  return 1;
}
