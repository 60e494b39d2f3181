// AssemblyScript: layout of the start of the memory.

/** Six corners, and their vertices. */
export const CORNERS_AT: usize = 0;
export const VERTICES_AT: usize = 144;
/** Planes of two triangles. */
export const PLANE: usize = 168;
export const OTHER: usize = 200;
/** Normals. */
export const NORMAL: usize = 232;
export const N: usize = 256;
export const M: usize = 280;
