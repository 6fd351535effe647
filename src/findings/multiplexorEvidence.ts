/**
 * What speaks for a field being a selector: with it held fixed, other bits go on from the last frame of the same value,
 * though not from the frame before. Counted bit by bit over pieces of a recording.
 */
import { kt } from './cut/classCode.ts';
import { gammaTables } from './cut/logGamma.ts';
import type { MessageRows } from './rows.ts';

/** Frames that are compared, in pieces without a break; Uint32[n] frame numbers, 1 where a piece begins. */
export interface Pieces {
  frames: Uint32Array;
  begins: Uint8Array;
}

const MOST_FRAMES = 2400;
const PIECE = 600;

/** All frames of a short message, four pieces of a long one. */
export function piecesOf(rows: MessageRows): Pieces {
  const frames: number[] = [];
  const begins: number[] = [];
  const add = (from: number, to: number) => {
    for (let i = from; i < to; i++) {
      frames.push(i);
      begins.push(i === from || rows.begins[i] ? 1 : 0);
    }
  };
  if (rows.count <= MOST_FRAMES) add(0, rows.count);
  else {
    const pieces = MOST_FRAMES / PIECE;
    for (let p = 0; p < pieces; p++) {
      const from = Math.round((p * (rows.count - PIECE)) / (pieces - 1));
      add(from, from + PIECE);
    }
  }
  return { frames: Uint32Array.from(frames), begins: Uint8Array.from(begins) };
}

/** Payloads of the piece frames as words of 32 bits, Int32[frames × words]. */
export function wordsOf(rows: MessageRows, pieces: Pieces): { words: Int32Array; width: number } {
  const width = (rows.length + 3) >> 2;
  const words = new Int32Array(pieces.frames.length * width);
  for (let k = 0; k < pieces.frames.length; k++) {
    const from = (pieces.frames[k] as number) * rows.length;
    for (let b = 0; b < rows.length; b++) {
      const at = k * width + (b >> 2);
      words[at] = (words[at] as number) | ((rows.payload[from + b] as number) << (8 * (b & 3)));
    }
  }
  return { words, width };
}

/**
 * Whether frames differ in fewer bits from the last one of the same value than from the one before: a first look at what
 * most fields fail. Bits of the field itself are left out of both.
 */
export function nearerToSame(
  { words, width }: { words: Int32Array; width: number },
  pieces: Pieces,
  values: Uint8Array,
  own: readonly number[],
): boolean {
  const mask = new Int32Array(width).fill(-1);
  for (const bit of own) mask[bit >> 5] = (mask[bit >> 5] as number) & ~(1 << (bit & 31));
  const last = new Int32Array(256).fill(-1);
  let before = 0;
  let same = 0;
  for (let k = 0; k < values.length; k++) {
    if (pieces.begins[k]) last.fill(-1);
    const value = values[k] as number;
    const twin = last[value] as number;
    // Where the value stays, both are the same frame.
    if (twin >= 0 && twin !== k - 1) {
      for (let w = 0; w < width; w++) {
        const now = words[k * width + w] as number;
        const m = mask[w] as number;
        before += ones((now ^ (words[(k - 1) * width + w] as number)) & m);
        same += ones((now ^ (words[twin * width + w] as number)) & m);
      }
    }
    last[value] = k;
  }
  return same < before;
}

/** Set bits of a 32-bit word. */
function ones(word: number): number {
  let x = word - ((word >>> 1) & 0x5555_5555);
  x = (x & 0x3333_3333) + ((x >>> 2) & 0x3333_3333);
  return Math.imul((x + (x >>> 4)) & 0x0f0f_0f0f, 0x0101_0101) >>> 24;
}

/** Flips of each bit over the same frames, against three others. */
export interface Flips {
  frames: number;
  /** Against the frame before, the last one of the same value, and one of the same value long before. */
  before: Uint32Array;
  same: Uint32Array;
  far: Uint32Array;
  /**
   * Where the value changes: against the frame before, and against one of that frame's value long before. Layouts have
   * nothing to do with each other, so these are alike; what merely goes with the field has moved on meanwhile.
   */
  across: Uint32Array;
  acrossFar: Uint32Array;
}

/** So many frames of one value lie between a frame and the one long before. */
const FAR = 8;

/** `values`: of the selector, by piece frame, below `kinds`. */
export function flipsBy(rows: MessageRows, pieces: Pieces, values: Uint8Array, kinds: number): Flips {
  const { payload, length } = rows;
  const flips: Flips = {
    frames: 0,
    before: new Uint32Array(8 * length),
    same: new Uint32Array(8 * length),
    far: new Uint32Array(8 * length),
    across: new Uint32Array(8 * length),
    acrossFar: new Uint32Array(8 * length),
  };
  /** The last frames of each value, in rings. */
  const rings = new Int32Array(kinds * FAR).fill(-1);
  const seen = new Uint32Array(kinds);
  for (let k = 0; k < values.length; k++) {
    if (pieces.begins[k]) seen.fill(0);
    const value = values[k] as number;
    const count = seen[value] as number;
    const now = (pieces.frames[k] as number) * length;
    const ring = value * FAR;
    if (count >= FAR) {
      flips.frames++;
      const before = (pieces.frames[k - 1] as number) * length;
      const same = (rings[ring + ((count - 1) % FAR)] as number) * length;
      const far = (rings[ring + (count % FAR)] as number) * length;
      const was = values[k - 1] as number;
      const crossed = was !== value && (seen[was] as number) > FAR;
      const old = crossed ? (rings[was * FAR + ((seen[was] as number) % FAR)] as number) * length : 0;
      for (let b = 0; b < length; b++) {
        const byte = payload[now + b] as number;
        count1(flips.before, 8 * b, byte ^ (payload[before + b] as number));
        count1(flips.same, 8 * b, byte ^ (payload[same + b] as number));
        count1(flips.far, 8 * b, byte ^ (payload[far + b] as number));
        if (crossed) {
          count1(flips.across, 8 * b, byte ^ (payload[before + b] as number));
          count1(flips.acrossFar, 8 * b, byte ^ (payload[old + b] as number));
        }
      }
    }
    rings[ring + (count % FAR)] = pieces.frames[k] as number;
    seen[value] = count + 1;
  }
  return flips;
}

function count1(counts: Uint32Array, at: number, changed: number): void {
  for (let rest = changed; rest !== 0; rest &= rest - 1) {
    const bit = at + 31 - Math.clz32(rest & -rest);
    counts[bit] = (counts[bit] as number) + 1;
  }
}

/** Nats that a bit must save before it counts: it could do so by chance in many places. */
const PER_BIT = 4;

export interface SelectorEvidence {
  /** Nats saved by bits that go on from the last frame of the same value, and how many bits those are. */
  nats: number;
  bits: number;
  /** Bytes in which those are. */
  bytes: number;
  /** Nats lost by bits that go on from the frame before. */
  lost: number;
  /** Nats a frame that telling all other bits against the last frame of the same value saves on the whole. */
  net: number;
  /** Nats a frame of all other bits told against the frame before. */
  all: number;
}

/**
 * Nats that telling the bits costs less against the last frame of the same value than against the frame before. A bit
 * that is a mere function of the field, as a copy of it is, is as close to any older frame of the same value: it adds nothing.
 */
export function evidenceOf(flips: Flips, own: ReadonlySet<number>): SelectorEvidence {
  const t = gammaTables(flips.frames + 64);
  const sum: SelectorEvidence = { nats: 0, bits: 0, bytes: 0, lost: 0, net: 0, all: 0 };
  let last = -1;
  for (let bit = 0; bit < flips.same.length; bit++) {
    if (own.has(bit)) continue;
    const same = costOf(t, flips.same[bit] as number, flips.frames);
    const before = costOf(t, flips.before[bit] as number, flips.frames);
    const far = costOf(t, flips.far[bit] as number, flips.frames);
    sum.net += (before - same) / flips.frames;
    sum.all += before / flips.frames;
    if (before < same) sum.lost += same - before;
    const saved = Math.min(before, far) - same;
    // Half of the steps is what unrelated values do.
    if (saved <= PER_BIT || (flips.same[bit] as number) >= 0.45 * flips.frames || goesOn(flips, bit))
      continue;
    sum.nats += saved - PER_BIT;
    sum.bits++;
    if (bit >> 3 !== last) sum.bytes++;
    last = bit >> 3;
  }
  return sum;
}

/** Whether a bit is closer to the frame before than to an older one although the value changed in between. */
function goesOn({ across, acrossFar }: Flips, bit: number): boolean {
  const [near, far] = [across[bit] as number, acrossFar[bit] as number];
  return near + 2 * Math.sqrt(near + 1) < 0.95 * far;
}

/** How a bit goes: on from the frame before, on from the last frame of the same value, or so that neither is clear. */
export function goesWith(flips: Flips, bit: number): 'before' | 'value' | 'open' {
  const n = flips.frames;
  const before = flips.before[bit] as number;
  const same = flips.same[bit] as number;
  // A rare flip of what all layouts share is seen once between frames, but once behind every value.
  if (Math.max(before, same) < RARE_SHARE * n) {
    if (before > RARE_RATIO * same) return 'value';
    return same > RARE_RATIO * before ? 'before' : 'open';
  }
  const spread = Math.sqrt(before * (1 - before / n) + same * (1 - same / n) + 1);
  const z = (before - same) / spread;
  return z > CLEAR ? 'value' : z < -CLEAR ? 'before' : 'open';
}

/** Standard deviations beyond which a difference of flips is none of chance. */
const CLEAR = 4;
const RARE_SHARE = 0.1;
const RARE_RATIO = 1.5;

/** Whether a bit flips about as often behind every value: it is noise of one field that all layouts share. */
export function flipsAlike(
  rows: MessageRows,
  pieces: Pieces,
  values: Uint8Array,
  kinds: number,
): (bit: number) => boolean {
  const last = new Int32Array(kinds).fill(-1);
  const steps = new Uint32Array(kinds);
  const flips = new Uint32Array(kinds * 8 * rows.length);
  for (let k = 0; k < values.length; k++) {
    if (pieces.begins[k]) last.fill(-1);
    const value = values[k] as number;
    const was = last[value] as number;
    const now = (pieces.frames[k] as number) * rows.length;
    if (was >= 0) {
      steps[value] = (steps[value] as number) + 1;
      for (let b = 0; b < rows.length; b++) {
        const changed = (rows.payload[now + b] as number) ^ (rows.payload[was + b] as number);
        count1(flips, 8 * (value * rows.length + b), changed);
      }
    }
    last[value] = now;
  }
  return (bit) => {
    let all = 0;
    let flipped = 0;
    for (let value = 0; value < kinds; value++) {
      all += steps[value] as number;
      flipped += flips[8 * value * rows.length + bit] as number;
    }
    const rate = flipped / Math.max(1, all);
    if (rate === 0 || rate === 1) return true;
    let spread = 0;
    for (let value = 0; value < kinds; value++) {
      const n = steps[value] as number;
      if (n > 0) {
        const off = (flips[8 * value * rows.length + bit] as number) - n * rate;
        spread += (off * off) / (n * rate * (1 - rate));
      }
    }
    return spread < UNLIKE * Math.max(1, kinds - 1);
  };
}

/** Chi-square a degree of freedom beyond which rates of flips differ; flips come in bunches, so well above 1. */
const UNLIKE = 6;

function costOf(t: ReturnType<typeof gammaTables>, flips: number, frames: number): number {
  return kt(t, flips, frames - flips);
}
