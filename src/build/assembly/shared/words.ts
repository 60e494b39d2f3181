// AssemblyScript: rows of 32-bit numbers in memory.

/** A number that is not there yet. */
export const EMPTY: i32 = -1;

/** Where number `i` of the row at a place stands. */
export function wordAt(at: usize, i: i32): usize {
  return at + ((<usize>i) << 2);
}

export function word(at: usize, i: i32): i32 {
  return load<i32>(wordAt(at, i));
}

export function setWord(at: usize, i: i32, value: i32): void {
  store<i32>(wordAt(at, i), value);
}

/** Makes `count` numbers `EMPTY`. */
export function emptyWords(at: usize, count: i32): void {
  memory.fill(at, 0xff, (<usize>count) << 2);
}
