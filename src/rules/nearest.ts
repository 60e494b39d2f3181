/** The known word closest to a misspelt one, or undefined where none is within a third of its letters (at least 2). */
export function nearestWord(word: string, known: Iterable<string>): string | undefined {
  let best: string | undefined;
  let bestEdits = Math.max(2, Math.floor(word.length / 3)) + 1;
  for (const candidate of known) {
    const edits = editDistance(word, candidate);
    if (edits < bestEdits) {
      best = candidate;
      bestEdits = edits;
    }
  }
  return best;
}

function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, i) => i);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      next[j] = Math.min(row[j] + 1, next[j - 1] + 1, row[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
    }
    row = next;
  }
  return row[b.length];
}
