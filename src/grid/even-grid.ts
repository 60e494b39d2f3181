/** A regular grid, mm: centre of its first place, step, and places along x, y and z; z runs fastest, then y, then x. */
export interface EvenGrid {
  originMm: readonly [number, number, number];
  stepMm: number;
  size: readonly [number, number, number];
}

/** Numbers of a place of the grid along x, y and z. */
export function cellOf([, ny, nz]: EvenGrid['size'], place: number): [x: number, y: number, z: number] {
  const z = place % nz;
  const y = ((place - z) / nz) % ny;
  return [(place - z - nz * y) / (nz * ny), y, z];
}

/** Middle of a place of the grid, mm. */
export function placeMm({ originMm, stepMm, size }: EvenGrid, place: number): [number, number, number] {
  const [x, y, z] = cellOf(size, place);
  return [originMm[0] + x * stepMm, originMm[1] + y * stepMm, originMm[2] + z * stepMm];
}
