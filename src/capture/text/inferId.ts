/** Finds the identifier column of a text recording and its base. */
import type { Choice } from './inferTime.ts';
import { column, headed, MOST, type Sample, share } from './sample.ts';

const HEX = /^(0x)?[0-9a-f]+$/i;

/** Identifier and payload joined by #: its column, or -1. */
export function findJoined(sample: Sample): number {
  for (let c = 0; c < sample.width; c++) {
    if (share(sample, c, (t) => /^(0x)?[0-9a-f]{1,8}#(([0-9a-f]{2})*|r[0-8]?)$/i.test(t)) >= 0.7) return c;
  }
  return -1;
}

/** The column that the header calls so, else the one whose values look most like identifiers: 3 or 8 hex digits, 0x, several different ones. */
export function findId(sample: Sample, free: (c: number) => boolean): number {
  const named = headed(sample, 'id');
  if (named >= 0 && named < sample.width) return named;
  let best = -1;
  let bestScore = 1;
  for (let c = 0; c < sample.width; c++) {
    if (!free(c) || share(sample, c, (t) => HEX.test(t) && digitsOf(t).length <= 10) < MOST) continue;
    const typical = share(
      sample,
      c,
      (t) => /^0x[0-9a-f]{1,8}$/i.test(t) || /^([0-9a-f]{3}|[0-9a-f]{8}|\d{4,10})$/i.test(t),
    );
    const several = new Set(column(sample, c)).size > 1 ? 0.5 : 0;
    const score = 1 + 2 * typical + several - 0.1 * c;
    // Decimal identifiers below 100 are two digits long, so half of the values must do.
    if (typical > 0.5 && score > bestScore) {
      best = c;
      bestScore = score;
    }
  }
  return best;
}

/** Hex unless the digits speak against it; null where the values cannot be identifiers at all. */
export function baseOfIds(tokens: readonly string[], header: string): Choice<10 | 16> | null {
  const hex = tokens.filter((t) => HEX.test(t));
  if (hex.length === 0 || hex.length < MOST * tokens.length) return null;
  const ids = [...new Set(hex)];
  if (/hex/.test(header) || ids.some((t) => /^0x/i.test(t) || /[a-f]/i.test(t)))
    return { value: 16, odds: 1 };
  if (/dec/.test(header) || ids.some((t) => t.length > 8)) return { value: 10, odds: 1 };
  if (ids.some((t) => t.length > 1 && t.startsWith('0'))) return { value: 16, odds: 0.99 };
  // About half of hex identifiers hold a letter (from memory: many are round), so n without one speak 2^n : 1 for decimal;
  // a fixed width of three or eight digits speaks for hex.
  const lengths = new Set(ids.map((t) => t.length));
  const fixed = lengths.size === 1 && (lengths.has(3) || lengths.has(8));
  const ratio = (fixed ? 0.05 : 4) * 2 ** Math.min(ids.length, 40);
  return ratio > 1 ? { value: 10, odds: ratio / (1 + ratio) } : { value: 16, odds: 1 / (1 + ratio) };
}

/** What says that an identifier has 29 bits, where no column does. */
export function extendedBy(ids: readonly string[], base: 10 | 16): 'digits' | 'value' {
  if (base === 10) return 'value';
  const eight = ids.filter((t) => digitsOf(t).length >= 8);
  // Where even small identifiers are padded to eight digits, the width says nothing.
  const padded = eight.length === ids.length && ids.some((t) => Number.parseInt(digitsOf(t), 16) <= 0x7ff);
  return eight.length > 0 && !padded ? 'digits' : 'value';
}

export function digitsOf(token: string): string {
  return token.replace(/^0x/i, '');
}
