// AssemblyScript: joins equal vertices.
import { isAt, pointOf, setPoint, xOf, yOf, zOf } from '../shared/mesh';
import { emptyWords, setWord, word } from '../shared/words';
import { hash } from './hash';

let used: i32 = 0;

export function usedVertices(): i32 {
  return used;
}

/**
 * `joinPlainly` of src/mesh/weld.ts: numbers the vertices in the order in which `corners` corners use them, with the same number for equal
 * ones, and moves them to their places. `numbers`: room for a number per vertex; `table`: for `slots` numbers, a power of two; `joined`:
 * for the distinct points. Returns the number of distinct points; `usedVertices` is the number of vertices used.
 */
export function join(
  positions: usize,
  vertices: i32,
  triangles: usize,
  corners: i32,
  numbers: usize,
  table: usize,
  slots: i32,
  joined: usize,
): i32 {
  emptyWords(numbers, vertices);
  emptyWords(table, slots);
  const mask = slots - 1;
  let count = 0;
  used = 0;
  for (let i = 0; i < corners; i++) {
    const v = word(triangles, i);
    let n = word(numbers, v);
    if (n < 0) {
      used++;
      const p = pointOf(positions, v);
      const x = xOf(p);
      const y = yOf(p);
      const z = zOf(p);
      let slot = hash(x, y, z) & mask;
      for (n = word(table, slot); n >= 0; n = word(table, slot)) {
        if (isAt(pointOf(joined, n), x, y, z)) break;
        slot = (slot + 1) & mask;
      }
      if (n < 0) {
        n = count++;
        setWord(table, slot, n);
        setPoint(pointOf(joined, n), x, y, z);
      }
      setWord(numbers, v, n);
    }
    setWord(triangles, i, n);
  }
  return count;
}
