// AssemblyScript: turns the triangles of each component to agree with each other, and outwards by the sign of its volume.
import { cornerOf, xOf, yOf, zOf } from '../shared/mesh';
import { setWord, word } from '../shared/words';
import { after } from './half-edges';

/**
 * `signsPlainly` of src/mesh/orient.ts: a signed byte per triangle at `signs`. `queue`: room for a number per triangle; `oneSided`: two
 * vertices for each edge across which no orientation agrees. Returns the number of these edges.
 */
export function agree(
  triangles: usize,
  twins: usize,
  count: i32,
  signs: usize,
  queue: usize,
  oneSided: usize,
): i32 {
  memory.fill(signs, 0, count);
  let failures = 0;
  for (let first = 0; first < count; first++) {
    if (load<i8>(signs + <usize>first)) continue;
    store<i8>(signs + <usize>first, 1);
    let head = 0;
    let tail = 0;
    setWord(queue, tail++, first);
    while (head < tail) {
      const t = word(queue, head++);
      const own = load<i8>(signs + <usize>t);
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const g = word(twins, h);
        if (g < 0) continue;
        const s = g / 3;
        const agreeing: i8 = word(triangles, g) === word(triangles, h) ? -own : own;
        const sign = load<i8>(signs + <usize>s);
        if (!sign) {
          store<i8>(signs + <usize>s, agreeing);
          setWord(queue, tail++, s);
        } else if (sign !== agreeing && g > h) {
          setWord(oneSided, 2 * failures, word(triangles, h));
          setWord(oneSided, 2 * failures + 1, word(triangles, after(h)));
          failures++;
        }
      }
    }
  }
  return failures;
}

/** `volumesPlainly` of src/mesh/orient.ts; `volumes`: a number per component. */
export function volumesOf(
  positions: usize,
  triangles: usize,
  count: i32,
  signs: usize,
  component: usize,
  ox: f64,
  oy: f64,
  oz: f64,
  volumes: usize,
  componentsThere: i32,
): void {
  memory.fill(volumes, 0, (<usize>componentsThere) << 3);
  for (let t = 0; t < count; t++) {
    const a = cornerOf(positions, triangles, 3 * t);
    const b = cornerOf(positions, triangles, 3 * t + 1);
    const c = cornerOf(positions, triangles, 3 * t + 2);
    const x = xOf(c) - ox;
    const y = yOf(c) - oy;
    const z = zOf(c) - oz;
    const ax = xOf(a) - ox;
    const ay = yOf(a) - oy;
    const az = zOf(a) - oz;
    const bx = xOf(b) - ox;
    const by = yOf(b) - oy;
    const bz = zOf(b) - oz;
    const part = (ay * bz - az * by) * x + (az * bx - ax * bz) * y + (ax * by - ay * bx) * z;
    const into = volumes + ((<usize>word(component, t)) << 3);
    store<f64>(into, load<f64>(into) + (<f64>load<i8>(signs + <usize>t) * part) / 6);
  }
}
