// AssemblyScript: triangles and vertices that a surface must not have.
import { cornerOf, xOf, yOf, zOf } from '../shared/mesh';
import { square } from '../shared/vector';
import { setWord, word } from '../shared/words';
import { after, RIM, UNPAIRED } from './half-edges';

/** `isFreePlainly` of src/mesh/weld.ts. */
export function isFreeOfCopies(twins: usize, halfEdges: i32): bool {
  for (let h = 0; h < halfEdges; h += 3) {
    const a = word(twins, h);
    const b = word(twins, h + 1);
    const c = word(twins, h + 2);
    if (a === UNPAIRED || b === UNPAIRED || c === UNPAIRED) return false;
    const s = facing(a);
    const t = facing(b);
    const u = facing(c);
    if ((s >= 0 && (s === t || s === u)) || (t >= 0 && t === u)) return false;
  }
  return true;
}

function facing(twin: i32): i32 {
  return twin < 0 ? RIM : twin / 3;
}

/** `degeneratePlainly` of src/mesh/topology.ts: lists them at `found`, returns their number. */
export function degenerate(positions: usize, triangles: usize, corners: i32, limit: f64, found: usize): i32 {
  let count = 0;
  for (let t = 0; t < corners; t += 3) {
    const a = cornerOf(positions, triangles, t);
    const b = cornerOf(positions, triangles, t + 1);
    const c = cornerOf(positions, triangles, t + 2);
    const ux = xOf(b) - xOf(a);
    const uy = yOf(b) - yOf(a);
    const uz = zOf(b) - zOf(a);
    const vx = xOf(c) - xOf(a);
    const vy = yOf(c) - yOf(a);
    const vz = zOf(c) - zOf(a);
    const nx = uy * vz - uz * vy;
    const ny = uz * vx - ux * vz;
    const nz = ux * vy - uy * vx;
    const uu = square(ux, uy, uz);
    const vv = square(vx, vy, vz);
    const ww = square(vx - ux, vy - uy, vz - uz);
    let longest = max(uu, vv);
    if (ww > longest) longest = ww;
    if (square(nx, ny, nz) <= limit * longest * longest) setWord(found, count++, t / 3);
  }
  return count;
}

/**
 * `pinchedPlainly` of src/mesh/topology.ts: lists them at `found`, returns their number. `seen`: a byte per corner; `fans`: a byte per
 * vertex.
 */
export function pinched(
  triangles: usize,
  twins: usize,
  corners: i32,
  vertices: i32,
  seen: usize,
  fans: usize,
  found: usize,
): i32 {
  memory.fill(seen, 0, corners);
  memory.fill(fans, 0, vertices);
  for (let c = 0; c < corners; c++) {
    if (load<u8>(seen + <usize>c) || word(twins, c) === UNPAIRED) continue;
    store<u8>(seen + <usize>c, 1);
    const v = word(triangles, c);
    const fan = load<u8>(fans + <usize>v);
    if (fan < 2) store<u8>(fans + <usize>v, fan + 1);
    turn(triangles, twins, seen, c, v, false);
    turn(triangles, twins, seen, c, v, true);
  }
  let count = 0;
  for (let v = 0; v < vertices; v++) if (load<u8>(fans + <usize>v) > 1) setWord(found, count++, v);
  return count;
}

function turn(triangles: usize, twins: usize, seen: usize, corner: i32, pivot: i32, backwards: bool): void {
  let c = corner;
  let back = backwards;
  while (true) {
    const t = c - (c % 3);
    const previous = c === t ? t + 2 : c - 1;
    const h = word(twins, back ? previous : c);
    if (h < 0) return;
    const startsAtPivot = word(triangles, h) === pivot;
    c = startsAtPivot ? h : after(h);
    if (load<u8>(seen + <usize>c)) return;
    store<u8>(seen + <usize>c, 1);
    back = startsAtPivot;
  }
}
