// AssemblyScript: the picture that is drawn into.

/** Bits of what a sample shows: raster-ink.ts. */
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
