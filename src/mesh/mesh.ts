/**
 * A welded triangle mesh.
 * `positions`: 3 numbers a vertex, x0 y0 z0 x1 …, mm, in the axes of the file (LPS or RAS as the case says).
 * `triangles`: 3 vertex indices a triangle, counter-clockwise seen from outside once oriented.
 */
export interface TriangleMesh {
  positions: Float64Array;
  triangles: Uint32Array;
}
