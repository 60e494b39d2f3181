// AssemblyScript, built by src/build/assemble.mjs: draws triangles into samples with a depth each, and averages these into pixels.
// src/report/figures/compiled-raster.ts lays out the memory, and src/report/figures/plain-raster.ts holds the plain version of the same:
// depths and pixels are the same in both, to the last bit.

/** Bits of what a sample shows: raster-ink.ts. */
const PART_SHIFT: i32 = 8;
const OUTLINE: u32 = 128;
const LIGHTS: f64 = 127;
const OUTLINE_LIGHT: f64 = 0.3;
/** Depth step between neighbouring samples from which the nearer one is an edge. */
const EDGE_STEP: f64 = 8;

let left: i32 = 0;
let top: i32 = 0;
let columns: i32 = 0;
let rows: i32 = 0;
let farthest: f64 = 0;
let near: usize = 0;
let seen: usize = 0;

/**
 * Replaces points in mm by right, down and away in samples, by 3 rows of 4 numbers, and widens the bounds: least x and y, largest x, y
 * and away.
 */
export function project(points: usize, count: u32, projection: usize, bounds: usize): void {
  let x0 = load<f64>(bounds);
  let y0 = load<f64>(bounds, 8);
  let x1 = load<f64>(bounds, 16);
  let y1 = load<f64>(bounds, 24);
  let z1 = load<f64>(bounds, 32);
  const end = points + <usize>count * 24;
  for (let p = points; p < end; p += 24) {
    const a = load<f64>(p);
    const b = load<f64>(p, 8);
    const c = load<f64>(p, 16);
    const x = along(projection, a, b, c);
    const y = along(projection + 32, a, b, c);
    const z = along(projection + 64, a, b, c);
    store<f64>(p, x);
    store<f64>(p, y, 8);
    store<f64>(p, z, 16);
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
    if (z > z1) z1 = z;
  }
  store<f64>(bounds, x0);
  store<f64>(bounds, y0, 8);
  store<f64>(bounds, x1, 16);
  store<f64>(bounds, y1, 24);
  store<f64>(bounds, z1, 32);
}

/** Two samples to a pixel. */
function along(row: usize, a: f64, b: f64, c: f64): f64 {
  return 2 * (load<f64>(row) * a + load<f64>(row, 8) * b + load<f64>(row, 16) * c + load<f64>(row, 24));
}

/** Starts an empty picture of these samples, of which `nearAt` and `seenAt` have 4 bytes for each. */
export function begin(x: i32, y: i32, w: i32, h: i32, away: f64, nearAt: usize, seenAt: usize): void {
  left = x;
  top = y;
  columns = w;
  rows = h;
  farthest = away;
  near = nearAt;
  seen = seenAt;
  memory.fill(near, 0, (<usize>(w * h)) << 2);
  memory.fill(seen, 0, (<usize>(w * h)) << 2);
}

/** What was drawn so far then lies behind everything that follows. */
export function leaveBehind(): void {
  memory.fill(near, 0, (<usize>(columns * rows)) << 2);
}

/** Draws `count` triangles of points that `project` placed; of a closed part only those that face the viewer. */
export function drawPart(screen: usize, triangles: usize, count: u32, number: i32, isClosed: bool): void {
  const end = triangles + <usize>count * 12;
  for (let t = triangles; t < end; t += 12) {
    const a = screen + 24 * <usize>load<u32>(t);
    const b = screen + 24 * <usize>load<u32>(t, 4);
    const c = screen + 24 * <usize>load<u32>(t, 8);
    if (isClosed && twiceArea(a, b, c) > 0) continue;
    drawTriangle(a, b, c, number);
  }
}

function twiceArea(a: usize, b: usize, c: usize): f64 {
  return (
    (load<f64>(b) - load<f64>(a)) * (load<f64>(c, 8) - load<f64>(a, 8)) -
    (load<f64>(c) - load<f64>(a)) * (load<f64>(b, 8) - load<f64>(a, 8))
  );
}

/** The first sample whose middle lies at a place or past it, within bounds. */
function sampleFrom(place: f64, low: i32, high: i32): i32 {
  if (!(place > <f64>low)) return low;
  return place < <f64>high ? <i32>ceil<f64>(place - 0.5) : high;
}

/** Row by row, between the edges on the left and on the right. */
function drawTriangle(first: usize, second: usize, third: usize, number: i32): void {
  // a is the highest corner, c the lowest
  let a = first;
  let b = second;
  let c = third;
  let t: usize;
  if (load<f64>(a, 8) > load<f64>(b, 8)) {
    t = a;
    a = b;
    b = t;
  }
  if (load<f64>(b, 8) > load<f64>(c, 8)) {
    t = b;
    b = c;
    c = t;
  }
  if (load<f64>(a, 8) > load<f64>(b, 8)) {
    t = a;
    a = b;
    b = t;
  }
  const ay = load<f64>(a, 8);
  const by = load<f64>(b, 8);
  const cy = load<f64>(c, 8);
  const firstRow = sampleFrom(ay, top, top + rows);
  const lastRow = sampleFrom(cy, top, top + rows);
  if (firstRow === lastRow) return;
  const area = twiceArea(a, b, c);
  // neither infinite nor without a value
  if (area === 0 || !(abs(area) < Infinity)) return;
  const ax = load<f64>(a);
  const bx = load<f64>(b);
  const cx = load<f64>(c);
  const az = load<f64>(a, 16);
  const bz = load<f64>(b, 16) - az;
  const cz = load<f64>(c, 16) - az;
  const nx = bz * (cy - ay) - cz * (by - ay);
  const ny = cz * (bx - ax) - bz * (cx - ax);
  // by the cosine of the angle between triangle and screen: its projected area over its area
  const light = 0.3 + (0.7 * abs(area)) / sqrt(nx * nx + ny * ny + area * area);
  const paint = (number << PART_SHIFT) | <i32>(LIGHTS * light + 0.5);
  const nearPerColumn = -nx / area;
  const nearPerRow = -ny / area;
  const long = (cx - ax) / (cy - ay);
  const upper = (bx - ax) / (by - ay);
  const lower = (cx - bx) / (cy - by);
  const middleRow = sampleFrom(by, firstRow, lastRow);
  const x0 = left;
  const x1 = left + columns;
  const away = farthest - az;
  for (let y = firstRow; y < lastRow; y++) {
    const middle = <f64>y + 0.5;
    const down = middle - ay;
    const onLong = ax + down * long;
    // between the long edge and the upper one above the middle corner, and the lower one below it
    const onShort = y < middleRow ? ax + down * upper : bx + (middle - by) * lower;
    const from = sampleFrom(area > 0 ? onLong : onShort, x0, x1);
    const to = sampleFrom(area > 0 ? onShort : onLong, x0, x1);
    const row = (y - top) * columns - x0;
    let here = away + down * nearPerRow + (<f64>from + 0.5 - ax) * nearPerColumn;
    let at = near + ((<usize>(row + from)) << 2);
    let mark = seen + ((<usize>(row + from)) << 2);
    for (let x = from; x < to; x++) {
      const value = <f32>here;
      if (value > load<f32>(at)) {
        store<f32>(at, value);
        store<i32>(mark, paint);
      }
      here += nearPerColumn;
      at += 4;
      mark += 4;
    }
  }
}

/** Marks the nearer of two neighbours where parts meet or the depth jumps. */
export function drawOutlines(): void {
  for (let y = 1; y + 1 < rows; y++) {
    let at = (<usize>(y * columns + 1)) << 2;
    const end = (<usize>((y + 1) * columns - 1)) << 2;
    for (; at + 16 <= end; at += 16)
      if (mayHaveEdge(at)) for (let k: usize = 0; k < 16; k += 4) outline(at + k);
    for (; at < end; at += 4) outline(at);
  }
}

/** Whether one of four samples may be an edge: rounding to 32 bits may take a smaller step for `EDGE_STEP`, never a larger one for less. */
function mayHaveEdge(at: usize): bool {
  const mine = v128.load(seen + at);
  if (!v128.any_true(mine)) return false;
  const here = v128.load(near + at);
  const line = (<usize>columns) << 2;
  return v128.any_true(
    v128.or(
      v128.or(edges(mine, here, at + 4), edges(mine, here, at + line)),
      v128.or(edges(mine, here, at - 4), edges(mine, here, at - line)),
    ),
  );
}

function edges(mine: v128, here: v128, other: usize): v128 {
  const there = v128.load(near + other);
  const parts = i32x4.shr_u(v128.xor(mine, v128.load(seen + other)), PART_SHIFT);
  return v128.and(
    f32x4.gt(here, there),
    v128.or(i32x4.ne(parts, i32x4.splat(0)), f32x4.ge(f32x4.sub(here, there), f32x4.splat(<f32>EDGE_STEP))),
  );
}

function outline(at: usize): void {
  const mine = load<u32>(seen + at);
  if (mine === 0) return;
  const here = load<f32>(near + at);
  const line = (<usize>columns) << 2;
  if (
    isEdge(mine, here, at + 4) ||
    isEdge(mine, here, at + line) ||
    isEdge(mine, here, at - 4) ||
    isEdge(mine, here, at - line)
  )
    store<u32>(seen + at, mine | OUTLINE);
}

function isEdge(mine: u32, here: f32, other: usize): bool {
  const there = load<f32>(near + other);
  if (!(here > there)) return false;
  return (mine ^ load<u32>(seen + other)) >>> PART_SHIFT !== 0 || <f64>here - <f64>there > EDGE_STEP;
}

/**
 * The colour of everything a sample of these parts can show, off a mark of the pattern and on one, from red, green and blue of both inks
 * of each part.
 */
export function mix(inks: usize, parts: i32, paints: usize): void {
  store<i32>(paints, (255 << 20) | (255 << 10) | 255);
  let to = paints + 2048;
  for (let part = 0; part < parts; part++, inks += 48) {
    for (let outlined = 0; outlined < 2; outlined++) {
      const darker = outlined ? OUTLINE_LIGHT : 1;
      for (let step: f64 = 0; step <= LIGHTS; step++, to += 8) {
        const light = (darker * step) / LIGHTS;
        store<i32>(to, packed(inks, light));
        store<i32>(to, packed(inks + 24, light), 4);
      }
    }
  }
}

/** Ten bits for each of red, green and blue, so that the sum of four fits. */
function packed(ink: usize, light: f64): i32 {
  return (
    (rounded(light * load<f64>(ink)) << 20) |
    (rounded(light * load<f64>(ink, 8)) << 10) |
    rounded(light * load<f64>(ink, 16))
  );
}

/** Halves up. */
function rounded(value: f64): i32 {
  const below = floor<f64>(value);
  return <i32>below + i32(value - below >= 0.5);
}

/** The mean of each pixel's samples, two by two: white if all are empty. `channels`: 1 or 3 bytes for each. */
export function average(paints: usize, marks: usize, pixels: usize, channels: i32): void {
  memory.fill(pixels, 255, <usize>(channels * ((columns * rows) >> 2)));
  const line = (<usize>columns) << 2;
  let to = pixels;
  for (let y = 0; y < rows; y += 2) {
    const markLine = ((top + y) & 15) << 4;
    let at = seen + ((<usize>(y * columns)) << 2);
    for (let x = 0; x < columns; x += 2, at += 8, to += channels) {
      if ((load<u64>(at) | load<u64>(at + line)) === 0) continue;
      const mark = marks + (markLine | ((left + x) & 15));
      const sum =
        ink(paints, mark, load<u32>(at)) +
        ink(paints, mark + 1, load<u32>(at, 4)) +
        ink(paints, mark + 16, load<u32>(at + line)) +
        ink(paints, mark + 17, load<u32>(at + line, 4));
      store<u8>(to, ((sum >> 20) + 2) >> 2);
      if (channels === 1) continue;
      store<u8>(to, (((sum >> 10) & 1023) + 2) >> 2, 1);
      store<u8>(to, ((sum & 1023) + 2) >> 2, 2);
    }
  }
}

function ink(paints: usize, mark: usize, what: u32): i32 {
  const isMarked = <u32>load<u8>(mark + ((what >> PART_SHIFT) << 8));
  return load<i32>(paints + ((2 * what + isMarked) << 2));
}
