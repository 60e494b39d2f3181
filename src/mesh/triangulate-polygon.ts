/** Above this number of corners ear clipping would take too long, and the loop is rejected. */
const MOST_CORNERS = 20_000;

/**
 * Ear clipping of a simple polygon that keeps every corner, even those on a straight side (omitting one would open the seam to the
 * neighbouring triangles). Of the possible ears the one with the shortest new side goes first.
 * `flat`: x0 y0 x1 y1 …, counter-clockwise. Returns corner triples, counter-clockwise, or undefined if the polygon crosses itself or has
 * more than 20,000 corners. Time n·(n + reflex corners).
 */
export function triangulatePolygon(flat: Float64Array): number[] | undefined {
  const n = flat.length / 2;
  if (n < 3 || n > MOST_CORNERS) return undefined;
  const next = Int32Array.from({ length: n }, (_, i) => (i + 1) % n);
  const before = Int32Array.from({ length: n }, (_, i) => (i + n - 1) % n);
  const area2 = (a: number, b: number, c: number): number =>
    (flat[2 * b] - flat[2 * a]) * (flat[2 * c + 1] - flat[2 * a + 1]) -
    (flat[2 * b + 1] - flat[2 * a + 1]) * (flat[2 * c] - flat[2 * a]);
  const side2 = (a: number, b: number): number =>
    (flat[2 * b] - flat[2 * a]) ** 2 + (flat[2 * b + 1] - flat[2 * a + 1]) ** 2;
  const isFlat = (a: number, b: number, c: number): boolean =>
    area2(a, b, c) <= 1e-9 * Math.max(side2(a, b), side2(b, c));

  /** Squared length of the new side from an ear at b; Infinity if b is not an ear. */
  const earSide = (b: number): number => {
    const a = before[b];
    const c = next[b];
    if (isFlat(a, b, c)) return Infinity;
    for (let p = next[c]; p !== a; p = next[p]) {
      // Only a reflex or straight corner can be the first to be inside an ear.
      if (!isFlat(before[p], p, next[p])) continue;
      if (area2(a, b, p) >= 0 && area2(b, c, p) >= 0 && area2(c, a, p) >= 0) return Infinity;
    }
    return side2(a, c);
  };

  const sides = Float64Array.from({ length: n }, (_, i) => earSide(i));
  const result: number[] = [];
  let left = n;
  let any = 0;
  while (left > 3) {
    let best = -1;
    for (let p = next[any], steps = 0; steps < left; p = next[p], steps++) {
      if (sides[p] < Infinity && (best < 0 || sides[p] < sides[best])) best = p;
    }
    if (best < 0) return undefined;
    const a = before[best];
    const c = next[best];
    result.push(a, best, c);
    next[a] = c;
    before[c] = a;
    any = a;
    left--;
    sides[a] = earSide(a);
    sides[c] = earSide(c);
  }
  if (isFlat(before[any], any, next[any])) return undefined;
  result.push(before[any], any, next[any]);
  return result;
}
