/** How check fields move from frame to frame, which tells them from signals that merely fit an equation. */
import { type BitField, fieldBits, readBits } from '../can/bits.ts';
import type { CheckField } from '../can/check.ts';
import { bitCount } from './crcSolve.ts';
import { codeLengths } from './cut/codeLengths.ts';
import type { MessageRows } from './rows.ts';

/** Flips per step of each bit, Float64[8 × length]; of a long recording from steps all over it. */
export function flipsPerBit(rows: MessageRows): Float64Array {
  const { payload, length, count } = rows;
  const flips = new Float64Array(8 * length);
  const stride = Math.max(1, Math.floor(count / STEPS_SAMPLED));
  let steps = 0;
  for (let i = 1; i < count; i += stride, steps++) {
    for (let byte = 0, at = i * length; byte < length; byte++, at++) {
      for (let d = (payload[at] as number) ^ (payload[at - length] as number); d !== 0; d &= d - 1) {
        const bit = 8 * byte + 31 - Math.clz32(d & -d);
        flips[bit] = (flips[bit] as number) + 1;
      }
    }
  }
  return flips.map((sum) => sum / Math.max(1, steps));
}

const STEPS_SAMPLED = 8192;

/** Flips per step of all bits of each byte together, Float64[length]. */
function flipsPerByte(rows: MessageRows): Float64Array {
  const bits = flipsPerBit(rows);
  return Float64Array.from({ length: rows.length }, (_, b) =>
    bits.subarray(8 * b, 8 * b + 8).reduce((sum, rate) => sum + rate, 0),
  );
}

/**
 * A check of m bits stays as it is at one change of the payload in 2^m. A signal that follows from a check elsewhere in
 * the payload, because the check can be solved for it, moves when it has reason to.
 */
export function changesWithTheRest(rows: MessageRows, field: CheckField): boolean {
  const { payload, length } = rows;
  const own = new Uint8Array(length);
  for (const bit of fieldBits(field)) own[bit >> 3] = (own[bit >> 3] as number) | (1 << (bit & 7));
  const touched = Array.from(own, (_, b) => b).filter((b) => own[b] !== 0);
  const covered = field.covers.filter((b) => own[b] !== 0xff);
  const moving = new Uint8Array(length);
  let changes = 0;
  let still = 0;
  for (let i = 1; i < rows.count; i++) {
    const at = i * length;
    let mine = 0;
    for (const b of touched) {
      const d = ((payload[at + b] as number) ^ (payload[at - length + b] as number)) & (own[b] as number);
      moving[b] = (moving[b] as number) | d;
      mine |= d;
    }
    let others = 0;
    for (const b of covered) {
      const d = (payload[at + b] as number) ^ (payload[at - length + b] as number);
      others |= d & ~(own[b] as number);
    }
    if (others === 0) continue;
    changes++;
    if (mine === 0) still++;
  }
  const bits = moving.reduce((sum, mask) => sum + bitCount(mask), 0);
  return still <= (2 ** -bits + STILL_SLACK) * changes;
}

/** Changes that often cancel, as two bits that always flip together, come on top. */
const STILL_SLACK = 0.15;

/**
 * 1 for bits that flip often enough to be those of a check: from one payload to the next different one, of up to
 * `SAMPLED`. Uint8[8 × length].
 */
export function livelyBits(rows: MessageRows): Uint8Array {
  const { payload, length } = rows;
  const flips = new Uint32Array(8 * length);
  let steps = 0;
  for (let i = 1; i < rows.count && steps < SAMPLED; i++) {
    let changed = 0;
    for (let b = 0; b < length; b++) {
      const at = i * length + b;
      let d = (payload[at] as number) ^ (payload[at - length] as number);
      changed |= d;
      for (; d !== 0; d &= d - 1) {
        const bit = 8 * b + 31 - Math.clz32(d & -d);
        flips[bit] = (flips[bit] as number) + 1;
      }
    }
    if (changed !== 0) steps++;
  }
  return Uint8Array.from(flips, (n) => (n > 0 && n >= LIVELY_SHARE * steps ? 1 : 0));
}

const SAMPLED = 1024;
/** A bit of a check flips in half of all changes, less often where few bits elsewhere make nearly all of them. */
const LIVELY_SHARE = 0.06;

/** A byte that takes at least 64 values and changes from frame to frame without pattern, as check bytes do. */
export function hasNoiseByte(rows: MessageRows): boolean {
  const { payload, length, count } = rows;
  const flips = flipsPerByte(rows);
  for (let b = 0; b < length; b++) {
    const rate = (flips[b] as number) / 8;
    if (rate < 0.35 || rate > 0.65) continue;
    const seen = new Set<number>();
    for (let i = 0; i < count; i++) seen.add(payload[i * length + b] as number);
    if (seen.size >= 64) return true;
  }
  return false;
}

/** Nats per frame that it takes to foretell a field of up to 16 bits, or the low 16 of a longer one, from up to 512 frames. */
export function noiseOf(rows: MessageRows, field: BitField): number {
  const n = Math.min(512, rows.count);
  const width = Math.min(16, field.length);
  const values = Uint32Array.from(
    { length: n },
    (_, i) => readBits(rows.payload, i * rows.length, field) & (2 ** width - 1),
  );
  const ranks = new Uint16Array(n);
  const known = new Map<number, number>();
  values.forEach((value, i) => {
    if (!known.has(value)) known.set(value, known.size);
    ranks[i] = known.get(value) as number;
  });
  const begins = rows.begins.slice(0, n);
  const codes = codeLengths({ values, begins, ranks, distinct: known.size, width, active: width });
  const { enumeration, unsigned, signed, modular, uniform, levels } = codes;
  return Math.min(enumeration, unsigned, signed, modular, uniform, levels) / n;
}
