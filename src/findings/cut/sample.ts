/**
 * The frames that are looked at when a payload is cut: all of a short message, pieces of a long one. A thousand frames a
 * message cut as well as all of them; what must not be lost are the rare flips.
 */
import type { MessageRows } from '../rows.ts';

export interface Sample {
  /** Frames of the message, rising, Uint32[n]. */
  frames: Uint32Array;
  /** 1 where a frame must not be compared with the one before, Uint8[n]. */
  begins: Uint8Array;
}

const CAP = 1000;
/** Of payloads with more than 64 moving bits (CAN FD) fewer, so that work grows with their bits and no faster. */
const LEAST_CAP = 256;
const PIECE = 256;
/** Bits that flip less often than this bring the frames round each flip along. */
const RARE_FLIPS = 60;
const BEFORE = 6;
const AFTER = 8;

/** `active`: bits that move. */
export function sampleOf(rows: MessageRows, active: number): Sample {
  const { count } = rows;
  const cap = Math.max(LEAST_CAP, Math.round(CAP * Math.min(1, 64 / active)));
  if (count <= cap) {
    return { frames: Uint32Array.from({ length: count }, (_, i) => i), begins: rows.begins };
  }
  const keep = new Uint8Array(count);
  let kept = 0;
  const add = (from: number, to: number) => {
    for (let i = Math.max(0, from); i < Math.min(count, to); i++) {
      kept += 1 - (keep[i] as number);
      keep[i] = 1;
    }
  };
  const pieces = Math.max(1, Math.floor(cap / PIECE));
  for (let p = 0; p < pieces; p++) {
    const from = Math.round((p * (count - PIECE)) / Math.max(1, pieces - 1));
    add(from, from + PIECE);
  }
  for (const i of rareFlips(rows)) {
    if (kept >= 2.5 * cap) break;
    add(i - BEFORE, i + AFTER);
  }
  const frames = new Uint32Array(kept);
  const begins = new Uint8Array(kept);
  for (let i = 0, k = 0; i < count; i++) {
    if (!keep[i]) continue;
    frames[k] = i;
    begins[k++] = rows.begins[i] || i === 0 || !keep[i - 1] ? 1 : 0;
  }
  return { frames, begins };
}

/** Frames at which a rare bit flips, those of the rarest bits first. */
function rareFlips(rows: MessageRows): number[] {
  const { payload, length, count, begins } = rows;
  const flips: number[][] = Array.from({ length: 8 * length }, () => []);
  for (let i = 1; i < count; i++) {
    if (begins[i]) continue;
    for (let b = 0; b < length; b++) {
      let changed = (payload[i * length + b] as number) ^ (payload[(i - 1) * length + b] as number);
      for (; changed !== 0; changed &= changed - 1) {
        const list = flips[8 * b + 31 - Math.clz32(changed & -changed)] as number[];
        if (list.length < RARE_FLIPS) list.push(i);
      }
    }
  }
  return flips
    .filter((list) => list.length < RARE_FLIPS)
    .sort((a, b) => a.length - b.length)
    .flat();
}
