/**
 * A welded triangle mesh.
 * `positions`: 3 numbers per vertex, x0 y0 z0 x1 …, mm, in the axes of the file (LPS or RAS, from the case).
 * `triangles`: 3 vertex indices per triangle, counter-clockwise as seen from outside once oriented.
 */
export interface TriangleMesh {
  positions: Float64Array;
  triangles: Uint32Array;
}
