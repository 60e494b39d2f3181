// AssemblyScript: half-edges. Number 3 t + k starts at corner k of triangle t; its twin is the one on the other side of the edge.

/** Values instead of a twin, as in src/mesh/edge-pairing.ts. */
export const RIM: i32 = -1;
export const UNPAIRED: i32 = -2;

export /** The next half-edge of the same triangle. */
function after(h: i32): i32 {
  return h % 3 === 2 ? h - 2 : h + 1;
}
