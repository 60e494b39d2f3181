/** Longest text that is compared; hints for longer ones are not useful. */
const LONGEST = 64;

/** Number of single-letter insertions, deletions, replacements and swaps of neighbours between two words (Damerau 1964). */
export function editDistance(a: string, b: string): number {
  let before: number[] = [];
  let last = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1];
      let cost = Math.min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (same ? 0 : 1));
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
        cost = Math.min(cost, before[j - 2] + 1);
      row.push(cost);
    }
    before = last;
    last = row;
  }
  return last[b.length];
}

/**
 * The known word nearest to `written`, ignoring letter case and `_`/`-`/space, or undefined if none is near enough: at most one change per
 * three letters (at least one), so that hints stay plausible. Ties go to the first in `known`.
 */
export function nearestKey(written: string, known: readonly string[]): string | undefined {
  if (written.length === 0 || written.length > LONGEST) return undefined;
  const plain = (word: string) => word.toLowerCase().replace(/[_\s-]+/g, '-');
  const target = plain(written);
  let best: { word: string; distance: number } | undefined;
  for (const word of known) {
    const distance = editDistance(target, plain(word));
    const allowed = Math.max(1, Math.floor(Math.max(target.length, word.length) / 3));
    if (
      distance <= allowed &&
      distance < Math.min(target.length, word.length) &&
      (!best || distance < best.distance)
    ) {
      best = { word, distance };
    }
  }
  return best?.word;
}

/** `Did you mean "po2"?` or `Known here: a, b, c.` for a message about an unknown word. */
export function nearestHint(written: string, known: readonly string[]): string {
  const near = nearestKey(written, known);
  return near === undefined ? `Known here: ${known.join(', ')}.` : `Did you mean "${near}"?`;
}
