/** How check fields move from frame to frame, which tells them from signals that merely fit an equation. */
import type { CheckField } from '../can/check.ts';
import { bitCount } from './crcSolve.ts';
import { codeLengths } from './cut/codeLengths.ts';
import type { MessageRows } from './rows.ts';

/** Bits that flip per step in each byte, Float64[length]. */
export function flipsPerByte(rows: MessageRows): Float64Array {
  const { payload, length, count } = rows;
  const flips = new Float64Array(length);
  for (let at = length, byte = 0; at < count * length; at++) {
    flips[byte] =
      (flips[byte] as number) + bitCount((payload[at] as number) ^ (payload[at - length] as number));
    if (++byte === length) byte = 0;
  }
  return flips.map((sum) => sum / Math.max(1, count - 1));
}

/**
 * A check of m bits stays as it is at one change of the payload in 2^m. A signal that follows from a check elsewhere in
 * the payload, because the check can be solved for it, moves when it has reason to.
 */
export function changesWithTheRest(rows: MessageRows, field: CheckField): boolean {
  const { payload, length } = rows;
  const byte = field.start >> 3;
  const own = (2 ** field.length - 1) << (field.start & 7);
  let moving = 0;
  let changes = 0;
  let still = 0;
  for (let i = 1; i < rows.count; i++) {
    const at = i * length;
    const difference = (b: number) => (payload[at + b] as number) ^ (payload[at - length + b] as number);
    const mine = difference(byte) & own;
    moving |= mine;
    if (!field.covers.some((b) => (b === byte ? difference(b) & ~own : difference(b)) !== 0)) continue;
    changes++;
    if (mine === 0) still++;
  }
  return still <= (2 ** -bitCount(moving) + STILL_SLACK) * changes;
}

/** Changes that often cancel, as two bits that always flip together, come on top. */
const STILL_SLACK = 0.15;

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

/** Nats per frame that it takes to foretell a byte, from up to 512 frames. */
export function noiseOf(rows: MessageRows, byte: number): number {
  const n = Math.min(512, rows.count);
  const values = Uint32Array.from({ length: n }, (_, i) => rows.payload[i * rows.length + byte] as number);
  const ranks = new Uint16Array(n);
  const known = new Map<number, number>();
  values.forEach((value, i) => {
    if (!known.has(value)) known.set(value, known.size);
    ranks[i] = known.get(value) as number;
  });
  const begins = rows.begins.slice(0, n);
  const codes = codeLengths({ values, begins, ranks, distinct: known.size, width: 8, active: 8 });
  const { enumeration, unsigned, signed, modular, uniform, levels } = codes;
  return Math.min(enumeration, unsigned, signed, modular, uniform, levels) / n;
}
