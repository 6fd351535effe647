/** Cues of one name of which one begins while another still lasts: which of them a moment belongs to is then open. */

export interface CueSpan {
  name: string;
  startS: number;
  endS: number;
}

/**
 * Pairs of places in the list, by start: each cue with the one of its name that lasts longest of those begun before it.
 * Cues that only touch do not overlap; one that ends before it starts is left out.
 */
export function cueOverlaps(cues: readonly CueSpan[]): { earlier: number; later: number }[] {
  const sorted = cues
    .map((cue, at) => ({ ...cue, at }))
    .filter(({ startS, endS }) => endS >= startS)
    .sort((a, b) => a.startS - b.startS || a.at - b.at);
  const lasting = new Map<string, (typeof sorted)[number]>();
  const pairs: { earlier: number; later: number }[] = [];
  for (const cue of sorted) {
    const before = lasting.get(cue.name);
    if (before && cue.startS < before.endS) pairs.push({ earlier: before.at, later: cue.at });
    if (before === undefined || cue.endS > before.endS) lasting.set(cue.name, cue);
  }
  return pairs;
}
