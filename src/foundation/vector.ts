/** A point or direction, `[x, y, z]`, mm. */
export type Vec3 = [number, number, number];

export const add = (a: Vec3, b: Vec3): Vec3 => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
export const subtract = (a: Vec3, b: Vec3): Vec3 => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
export const scale = (a: Vec3, s: number): Vec3 => [a[0] * s, a[1] * s, a[2] * s];
export const dot = (a: Vec3, b: Vec3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = (a: Vec3, b: Vec3): Vec3 => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
// Math.sqrt and not Math.hypot, which is several times slower and guards against magnitudes that do not occur here
export const length = (a: Vec3): number => Math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2]);
export const distance = (a: Vec3, b: Vec3): number => {
  const x = a[0] - b[0];
  const y = a[1] - b[1];
  const z = a[2] - b[2];
  return Math.sqrt(x * x + y * y + z * z);
};
export const lerp = (a: Vec3, b: Vec3, t: number): Vec3 => [
  a[0] + (b[0] - a[0]) * t,
  a[1] + (b[1] - a[1]) * t,
  a[2] + (b[2] - a[2]) * t,
];

/** The same place or direction in the other of LPS and RAS. */
export const otherAxes = ([x, y, z]: Vec3): Vec3 => [-x, -y, z];

/** Unit vector along `a`; a zero vector stays zero. */
export function normalize(a: Vec3): Vec3 {
  const n = length(a);
  return n > 0 ? scale(a, 1 / n) : [0, 0, 0];
}

/** Any unit vector perpendicular to the unit vector `a`. */
export function perpendicular(a: Vec3): Vec3 {
  const helper: Vec3 = Math.abs(a[0]) < 0.6 ? [1, 0, 0] : Math.abs(a[1]) < 0.6 ? [0, 1, 0] : [0, 0, 1];
  return normalize(cross(a, helper));
}

/** Distance of a point from the segment between two others. */
export function segmentDistance(p: Vec3, a: Vec3, b: Vec3): number {
  const along = subtract(b, a);
  const square = dot(along, along);
  const t = square > 0 ? Math.min(1, Math.max(0, dot(subtract(p, a), along) / square)) : 0;
  return distance(p, lerp(a, b, t));
}

/** Angle by which a spiral turns from one direction to the next so that they are evenly spread, radians. */
const GOLDEN_ANGLE = Math.PI * (3 - Math.sqrt(5));

/** The unit vector number `i` at height `z` of a spiral over the sphere (Fibonacci): even steps of z cover it evenly. */
export function onSpiral(i: number, z: number): Vec3 {
  const turn = i * GOLDEN_ANGLE;
  const r = Math.sqrt(1 - z * z);
  return [r * Math.cos(turn), r * Math.sin(turn), z];
}
