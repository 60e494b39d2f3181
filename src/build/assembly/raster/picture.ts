// AssemblyScript: the picture being drawn.

/** Bits of the value of a sample: raster-ink.ts. */
export const PART_SHIFT: i32 = 8;
export const OUTLINE: u32 = 128;
export const LIGHTS: f64 = 127;

export let left: i32 = 0;
export let top: i32 = 0;
export let columns: i32 = 0;
export let rows: i32 = 0;
export let farthest: f64 = 0;
export let near: usize = 0;
export let seen: usize = 0;

/** Starts an empty picture of these samples; `nearAt` and `seenAt` have 4 bytes for each. */
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

/** Everything drawn so far is then behind everything that follows. */
export function leaveBehind(): void {
  memory.fill(near, 0, (<usize>(columns * rows)) << 2);
}
