// AssemblyScript: pairs the half-edges of a mesh.
import { emptyWords, setWord, word } from '../shared/words';
import { numberComponents, separate, unite } from './components';
import { after, RIM, UNPAIRED } from './half-edges';

/** Where a chain of half-edges ends. */
const END: i32 = -1;

let edges: i32 = 0;
let shared: i32 = 0;
let isConsistent: bool = true;

export function edgeCount(): i32 {
  return edges;
}

/** Edges used by more than two triangles. */
export function sharedCount(): i32 {
  return shared;
}

export function isPairedConsistently(): bool {
  return isConsistent;
}

/**
 * `pairPlainly` of src/mesh/edge-pairing.ts. `heads`, `firstUses`: room for a number per vertex; `twins`: per half-edge; `parents`: per
 * triangle, then the component of each; `sharedAt`: two vertices for each edge used more than twice; `sizes`: triangles of each component.
 */
export function pair(
  triangles: usize,
  halfEdges: i32,
  vertices: i32,
  heads: usize,
  firstUses: usize,
  twins: usize,
  parents: usize,
  sharedAt: usize,
  sizes: usize,
): void {
  emptyWords(heads, vertices);
  emptyWords(firstUses, vertices);
  for (let t = halfEdges - 3; t >= 0; t -= 3) {
    const a = word(triangles, t);
    const b = word(triangles, t + 1);
    const c = word(triangles, t + 2);
    if (a === b || b === c || c === a) {
      for (let k = 0; k < 3; k++) setWord(twins, t + k, UNPAIRED);
      continue;
    }
    chain(heads, twins, min(c, a), t + 2);
    chain(heads, twins, min(b, c), t + 1);
    chain(heads, twins, min(a, b), t);
  }
  const count = halfEdges / 3;
  separate(parents, count);
  edges = 0;
  shared = 0;
  isConsistent = true;
  for (let low = 0; low < vertices; low++) {
    for (let h = word(heads, low), following = END; h !== END; h = following) {
      following = word(twins, h);
      setWord(twins, h, RIM);
      const from = word(triangles, h);
      const high = from === low ? word(triangles, after(h)) : from;
      const g = word(firstUses, high);
      const other = g === END ? END : word(triangles, g);
      // entries left by an earlier chain belong to another edge
      if (g === END || (other !== low && word(triangles, after(g)) !== low)) {
        setWord(firstUses, high, h);
        edges++;
        continue;
      }
      unite(parents, h / 3, g / 3);
      const known = word(twins, g);
      if (known === RIM) {
        setWord(twins, g, h);
        setWord(twins, h, g);
        if (other === from) isConsistent = false;
      } else {
        if (known >= 0) {
          setWord(twins, known, UNPAIRED);
          setWord(twins, g, UNPAIRED);
          setWord(sharedAt, 2 * shared, low);
          setWord(sharedAt, 2 * shared + 1, high);
          shared++;
        }
        setWord(twins, h, UNPAIRED);
      }
    }
  }
  numberComponents(parents, count, sizes);
}

function chain(heads: usize, twins: usize, low: i32, h: i32): void {
  setWord(twins, h, word(heads, low));
  setWord(heads, low, h);
}
