// AssemblyScript: outlines where parts meet or the depth jumps.
import { columns, near, OUTLINE, PART_SHIFT, rows, seen } from './picture';

/** Depth step between neighbouring samples from which the nearer one is an edge. */
const EDGE_STEP: f64 = 8;

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

/**
 * Whether one of four samples may be an edge: rounding to 32 bits may turn a smaller step into `EDGE_STEP`, but never a larger one into
 * less.
 */
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
