/**
 * Frames that do nothing but alternate between a few contents, as when several units send under one identifier, or one
 * asks for several things in turn: all bits that differ flip together, so nothing tells which of them belong together.
 */
import type { MessageRows } from './rows.ts';

const MOST_CONTENTS = 4;
/** Share of the steps at which the content changes. */
const CHANGES = 0.9;
const LEAST_FRAMES = 20;

/** How many contents the frames alternate between; 0 where they do more than that. */
export function interleavedContents({ payload, length, count, begins }: MessageRows): number {
  if (count < LEAST_FRAMES) return 0;
  const contents = new Set<string>();
  let changes = 0;
  let steps = 0;
  let before = '';
  for (let i = 0; i < count; i++) {
    const now = String.fromCharCode(...payload.subarray(i * length, (i + 1) * length));
    contents.add(now);
    if (contents.size > MOST_CONTENTS) return 0;
    if (!begins[i]) {
      steps++;
      if (now !== before) changes++;
    }
    before = now;
  }
  return contents.size > 1 && changes >= CHANGES * steps ? contents.size : 0;
}
