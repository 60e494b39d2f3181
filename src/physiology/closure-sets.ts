/**
 * The sets of feeders whose closure is computed, each once and in the order of the case.
 * Up to four feeders: every set. More: each alone, then cumulatively in the proposed order, then all but one, then all.
 */
export function closureSets(names: readonly string[], order: readonly string[]): string[][] {
  const sets: string[][] = names.length <= 4 ? everySubset(names) : [];
  if (names.length > 4) {
    sets.push(...names.map((name) => [name]));
    for (let n = 2; n <= order.length; n++) sets.push(order.slice(0, n));
    sets.push(...names.map((left) => names.filter((name) => name !== left)));
  }
  const seen = new Set<string>();
  return sets
    .map((set) => names.filter((name) => set.includes(name)))
    .filter((set) => {
      const key = JSON.stringify(set);
      return set.length > 0 && !seen.has(key) && seen.add(key);
    })
    .sort((a, b) => a.length - b.length);
}

function everySubset(names: readonly string[]): string[][] {
  const sets: string[][] = [[]];
  for (const name of names) sets.push(...sets.map((set) => [...set, name]));
  return sets.slice(1);
}
