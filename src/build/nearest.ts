/**
 * The known name nearest to a mistyped one, or null where none is close enough to be meant.
 * Distance: insertions, deletions, replacements and swaps of neighbours (Damerau–Levenshtein, restricted); at most a
 * third of the length, at least 2 and never the whole word.
 */
export function nearest(word: string, known: readonly string[]): string | null {
  let best: string | null = null;
  let bestDistance = Math.min(Math.max(2, Math.floor(word.length / 3)), word.length - 1) + 1;
  for (const name of known) {
    const d = distance(word.toLowerCase(), name.toLowerCase());
    if (d < bestDistance) {
      best = name;
      bestDistance = d;
    }
  }
  return best;
}

function distance(a: string, b: string): number {
  let before: number[] = [];
  let above = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let d = Math.min(row[j - 1]! + 1, above[j]! + 1, above[j - 1]! + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
        d = Math.min(d, before[j - 2]! + 1);
      row.push(d);
    }
    before = above;
    above = row;
  }
  return above[b.length]!;
}
