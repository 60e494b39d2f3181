// AssemblyScript: values computed from three coordinates.

export function dot(ax: f64, ay: f64, az: f64, bx: f64, by: f64, bz: f64): f64 {
  return ax * bx + ay * by + az * bz;
}

/** Square of a vector's length. */
export function square(x: f64, y: f64, z: f64): f64 {
  return dot(x, y, z, x, y, z);
}

/** The coordinate along axis 0, 1 or 2. */
export function component(axis: u32, x: f64, y: f64, z: f64): f64 {
  return axis === 0 ? x : axis === 1 ? y : z;
}
