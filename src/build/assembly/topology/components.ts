// AssemblyScript: connected components. Each triangle has a parent with a smaller or the same number, and a root is its own parent.
import { setWord, word } from '../shared/words';

let components: i32 = 0;

export function componentCount(): i32 {
  return components;
}

/** Makes each triangle its own component. */
export function separate(parents: usize, count: i32): void {
  for (let t = 0; t < count; t++) setWord(parents, t, t);
}

/** The smaller triangle becomes the root, so numbering does not depend on the order of the edges. */
export function unite(parents: usize, s: i32, t: i32): void {
  const a = root(parents, s);
  const b = root(parents, t);
  if (a < b) setWord(parents, b, a);
  else setWord(parents, a, b);
}

function root(parents: usize, start: i32): i32 {
  let t = start;
  while (true) {
    const above = word(parents, t);
    if (above === t) return t;
    const next = word(parents, above);
    setWord(parents, t, next);
    t = next;
  }
}

/** The parent of a triangle that is not a root comes before it and already has its number. */
export function numberComponents(parents: usize, count: i32, sizes: usize): void {
  components = 0;
  for (let t = 0; t < count; t++) {
    const above = word(parents, t);
    let id: i32;
    if (above === t) {
      id = components++;
      setWord(sizes, id, 0);
    } else {
      id = word(parents, above);
    }
    setWord(parents, t, id);
    setWord(sizes, id, word(sizes, id) + 1);
  }
}
