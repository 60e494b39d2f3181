// AssemblyScript: rows of 32-bit numbers in memory.

/** A number that is not set yet. */
export const EMPTY: i32 = -1;

/** Address of number `i` of a row. */
export function wordAt(at: usize, i: i32): usize {
  return at + ((<usize>i) << 2);
}

export function word(at: usize, i: i32): i32 {
  return load<i32>(wordAt(at, i));
}

export function setWord(at: usize, i: i32, value: i32): void {
  store<i32>(wordAt(at, i), value);
}

/** Sets `count` numbers to `EMPTY`. */
export function emptyWords(at: usize, count: i32): void {
  memory.fill(at, 0xff, (<usize>count) << 2);
}
