// AssemblyScript: the memory layout of a box tree.

/** The output of `around`, and the answer of a query: point x y z and distance. */
export const LAID: usize = 0;
export const ANSWER: usize = 64;

/**
 * Bytes of a box of the tree: min and max of x, of y, of z, where it is divided, its first triangle in the order, their number, the first
 * of its two parts (`NOT_YET` needed, or `NONE`), axis of division, depth.
 */
export const NODE: usize = 48;
export const HIGH: usize = 4;
export const MIDDLE: usize = 24;
export const FROM: usize = 32;
export const COUNT: usize = 36;
export const PARTS: usize = 40;
export const AXIS: usize = 44;
export const DEPTH: usize = 46;
export const NOT_YET: usize = 0;
export const NONE: usize = 1;

/** Bytes of one of many rays: origin and direction as x y z, distance and triangle where it ended. */
export const RAY: usize = 64;
