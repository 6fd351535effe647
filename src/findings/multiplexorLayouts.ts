/** What is cut of a multiplexed message: the bits that mean the same throughout, and the layout of each selector value. */
import { fieldBits } from '../can/bits.ts';
import type { FoundSelector } from './model.ts';
import type { Multiplexor } from './multiplexor.ts';
import { type MessageRows, movingBits } from './rows.ts';
import { FRAMES_TO_CUT } from './segment.ts';
import { several } from './words.ts';

export interface MessageLayouts {
  layouts: {
    /** Null for what does not depend on the selector. */
    selectorValue: number | null;
    rows: MessageRows;
    /** 1 for bits that belong elsewhere, Uint8[8 × length]. */
    taken: Uint8Array;
  }[];
  /** Which layouts had too few frames. */
  open: string[];
}

/** `taken`: bits of counter and check. */
export function layoutsOf(
  rows: MessageRows,
  taken: Uint8Array,
  multiplexor: Multiplexor | null,
): MessageLayouts {
  if (!multiplexor) return { layouts: [{ selectorValue: null, rows, taken }], open: [] };
  const { paged, field, values } = multiplexor;
  const own = new Set(fieldBits(field));
  const moving = movingBits(rows);
  const moves = (bit: number) => (((moving[bit >> 3] as number) >> (bit & 7)) & 1) === 1;
  const common = taken.map((t, bit) => (t || own.has(bit) || paged[bit] ? 1 : 0));
  const apart = taken.map((t, bit) => (t || own.has(bit) || !paged[bit] ? 1 : 0));
  // Bits that never move in any layout stand still for all of them at once.
  for (let bit = 0; bit < common.length; bit++) if (!moves(bit)) apart[bit] = 1;
  const open: string[] = [];
  const layouts: MessageLayouts['layouts'] = [{ selectorValue: null, rows, taken: common }];
  const selector = selectorValues(rows, multiplexor);
  for (const value of values) {
    const page = pageRows(rows, selector, value);
    layouts.push({ selectorValue: value, rows: page, taken: apart });
    if (page.count < FRAMES_TO_CUT) {
      open.push(
        `Selector value ${value} came in ${several(page.count, 'frame')} only: not enough to tell its layout; record for longer, or provoke what makes the unit send it.`,
      );
    }
  }
  return { layouts, open };
}

/** The selector as it is handed over. */
export function selectorOf({ field, probability, evidence }: Multiplexor): FoundSelector {
  return { ...field, probability, evidence };
}

/** Value of the selector in every frame, Uint32[count]. */
export function selectorValues(rows: MessageRows, { field }: Pick<Multiplexor, 'field'>): Uint32Array {
  const values = new Uint32Array(rows.count);
  fieldBits(field).forEach((bit, place) => {
    for (let i = 0, at = bit >> 3; i < rows.count; i++, at += rows.length) {
      values[i] = (values[i] as number) | ((((rows.payload[at] as number) >> (bit & 7)) & 1) << place);
    }
  });
  return values;
}

/** The frames of one selector value; nothing is compared across a break of the recording. */
function pageRows(rows: MessageRows, selector: Uint32Array, value: number): MessageRows {
  const kept: number[] = [];
  const begins: number[] = [];
  let broken = 1;
  for (let i = 0; i < rows.count; i++) {
    if (rows.begins[i]) broken = 1;
    if (selector[i] !== value) continue;
    kept.push(i);
    begins.push(broken);
    broken = 0;
  }
  const payload = new Uint8Array(kept.length * rows.length);
  kept.forEach((i, k) => {
    payload.set(rows.payload.subarray(i * rows.length, (i + 1) * rows.length), k * rows.length);
  });
  return {
    ...rows,
    count: kept.length,
    otherLength: 0,
    payload,
    time: Float64Array.from(kept, (i) => rows.time[i] as number),
    begins: Uint8Array.from(begins),
  };
}
