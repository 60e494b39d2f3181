// AssemblyScript: the hash of a point.

export function hash(x: f64, y: f64, z: f64): i32 {
  let h = mixed(mixed(mixed(0, x), y), z);
  h *= 0x85ebca6b;
  return <i32>(h ^ (h >>> 13));
}

function mixed(start: u32, value: f64): u32 {
  // the sign of a zero does not count
  const bits = value === 0 ? 0 : reinterpret<u64>(value);
  let h = (start ^ <u32>bits) * 0x9e3779b1;
  h ^= h >>> 15;
  h = (h ^ <u32>(bits >>> 32)) * 0x9e3779b1;
  return h ^ (h >>> 15);
}
