/**
 * Multiplexed messages: a selector of 1–8 bits at any place decides what other bits mean. Found by what it explains, not
 * by where it stands (multiplexorEvidence.ts); a field that only goes with others is none.
 */
import { fieldBits, sharedBits } from '../can/bits.ts';
import type { Evidence } from './model.ts';
import {
  evidenceOf,
  type Flips,
  flipsAlike,
  flipsBy,
  goesWith,
  nearerToSame,
  type Pieces,
  piecesOf,
  type SelectorEvidence,
  wordsOf,
} from './multiplexorEvidence.ts';
import {
  bitAbove,
  bitBelow,
  type Candidate,
  candidatesOf,
  memoryOf,
  scheduled,
} from './multiplexorFields.ts';
import { selectorValues } from './multiplexorLayouts.ts';
import type { MessageRows } from './rows.ts';
import { several } from './words.ts';

export interface Multiplexor {
  field: { start: number; length: number; byteOrder: 'little' | 'big' };
  /** Selector values that occur, rising. */
  values: number[];
  /** Bits that mean something else behind each value, Uint8[8 × length]. */
  paged: Uint8Array;
  probability: number;
  evidence: Evidence[];
}

/** Frames without which nothing is looked for. */
const LEAST_FRAMES = 60;
/** Evidence needed, in nats, and bits that must give it. */
const NEEDED_NATS = 25;
const NEEDED_BITS = 2;

export interface MultiplexorOptions {
  /** 1 for bits of a check field, Uint8[8 × length]. */
  taken: Uint8Array;
  /** The counter of the message: part of it is no selector, and its bits are the same in all layouts. */
  counter: { start: number; length: number; byteOrder: 'little' | 'big' } | null;
}

/** The selector of a message, null where there is none or too few frames to tell. */
export function findMultiplexor(rows: MessageRows, options: MultiplexorOptions): Multiplexor | null {
  if (rows.count < LEAST_FRAMES || rows.length === 0 || isTransport(rows)) return null;
  const pieces = piecesOf(rows);
  const words = wordsOf(rows, pieces);
  const choices: Choice[] = [];
  for (const candidate of candidatesOf(rows, pieces, options)) {
    if (!nearerToSame(words, pieces, candidate.ranks, candidate.bits)) continue;
    const flips = flipsBy(rows, pieces, candidate.ranks, candidate.values.length);
    if (flips.frames < LEAST_FRAMES / 2) continue;
    const evidence = evidenceOf(flips, new Set(candidate.bits));
    if (evidence.nats < NEEDED_NATS || evidence.bits < NEEDED_BITS) continue;
    // A check of a kind that was not found goes with the counter and with the rest, too, but it stands in one byte.
    if (evidence.bytes < 2 && options.counter && sharedBits(candidate.field, options.counter).length > 0)
      continue;
    choices.push({
      candidate,
      flips,
      ...evidence,
      scheduled: scheduled(candidate, pieces),
      memory: memoryOf(candidate, pieces),
    });
  }
  const narrow = sentInTurn(choices) ?? sentAnyhow(choices);
  if (!narrow) return null;
  const best = choices.find((wide) => countsFromOne(narrow.candidate, wide.candidate)) ?? narrow;
  const { candidate, flips, nats, bits } = best;
  return {
    field: candidate.field,
    values: [...new Set(selectorValues(rows, candidate))].sort((a, b) => a - b),
    paged: pagedBits(rows, pieces, flips, candidate, options),
    probability: Math.min(0.98, 1 - 0.3 * Math.exp(-(nats - NEEDED_NATS) / 60)),
    evidence: [
      {
        text: `${several(candidate.values.length, 'value')} seen; ${several(bits, 'other bit')} go on from the last frame of the same value and not from the frame before.`,
        frames: flips.frames,
      },
    ],
  };
}

/** Transport of J1939 (J1939-21: parameter groups 60160 and 60416): pieces of longer messages, not layouts of their own. */
function isTransport({ extended, id }: MessageRows): boolean {
  const format = (id >>> 16) & 0xff;
  return extended && ((id >>> 24) & 3) === 0 && (format === 0xeb || format === 0xec);
}

interface Choice extends SelectorEvidence {
  candidate: Candidate;
  flips: Flips;
  scheduled: number;
  memory: number;
}

/** Share of changes that a schedule must foretell for the layouts to be sent in turn. */
const IN_TURN = 0.85;

/** A selector that runs through its values by a schedule, as hardly another field does. */
function sentInTurn(choices: readonly Choice[]): Choice | null {
  return largest(
    choices.filter(
      ({ scheduled, nats, lost, net, all }) => scheduled >= IN_TURN && lost < 2 * nats && net > 0.1 * all,
    ),
    (choice) => choice.net * choice.flips.frames * choice.scheduled ** 4 * custom(choice.candidate),
  );
}

/** Share of what all other bits take that must be saved, and nats a frame. */
const ANYHOW_SHARE = 0.15;
const ANYHOW_NATS = 5;
const ANYHOW_BITS = 8;
const ANYHOW_VALUES = 3;
/** Nats a frame that the value some frames ago may tell about the one now; a number remembers more. */
const ANYHOW_MEMORY = 0.02;

/** A selector whose values come as they please. Any number looks like one to its own bits, so it must explain much. */
function sentAnyhow(choices: readonly Choice[]): Choice | null {
  return largest(
    choices.filter(
      ({ candidate, nats, bits, lost, net, all, flips, memory }) =>
        candidate.values.length >= ANYHOW_VALUES &&
        memory < ANYHOW_MEMORY &&
        lost < 0.04 * nats &&
        net > ANYHOW_SHARE * all &&
        net > ANYHOW_NATS &&
        bits >= ANYHOW_BITS &&
        flips.frames >= 100,
    ),
    (choice) => choice.net * choice.flips.frames * custom(choice.candidate),
  );
}

/**
 * Fields that tell the layouts apart equally well are told apart by custom: a selector counts from 0 or 1 without gaps,
 * and stands early in the payload (common practice, no source). What carries into the next bit is part of a counter.
 */
function custom({ values, bits, carries }: Candidate): number {
  const low = Math.min(...values);
  const gapless = low <= 1 && Math.max(...values) - low === values.length - 1;
  return (carries ? 0.7 : 1) * (gapless ? 1.06 : 1) * (1.04 - 0.04 * ((bits[0] as number) / 64));
}

/** Whether one more bit makes 1 … 4 of what looks like 1, 2, 3, 0: a count from one, whose top bit is set for its last value. */
function countsFromOne(narrow: Candidate, wide: Candidate): boolean {
  const { values } = wide;
  return (
    wide.bits.length === narrow.bits.length + 1 &&
    narrow.bits.every((bit, place) => bit === wide.bits[place]) &&
    values.length === narrow.values.length &&
    values.length === 2 ** narrow.bits.length &&
    Math.min(...values) === 1 &&
    Math.max(...values) === values.length
  );
}

function largest(choices: readonly Choice[], worth: (choice: Choice) => number): Choice | null {
  let best: Choice | null = null;
  for (const choice of choices) if (!best || worth(choice) > worth(best)) best = choice;
  return best;
}

/**
 * Bits that go on from the last frame of the same value are of its layout, those that go on from the frame before are of
 * all. Noise does neither: unless it differs from value to value, it goes with its neighbours, of which it is an end.
 */
function pagedBits(
  rows: MessageRows,
  pieces: Pieces,
  flips: Flips,
  { bits: own, ranks, values }: Candidate,
  { taken, counter }: MultiplexorOptions,
): Uint8Array {
  const size = 8 * rows.length;
  const paged = new Uint8Array(size);
  const fixed = new Set([...own, ...(counter ? fieldBits(counter) : [])]);
  const alike = flipsAlike(rows, pieces, ranks, values.length);
  const free = (bit: number) => bit >= 0 && bit < size && !fixed.has(bit) && !taken[bit];
  const firstOf = (from: number, next: (bit: number) => number) => {
    for (let bit = next(from); free(bit); bit = next(bit)) {
      const goes = goesWith(flips, bit);
      if (goes !== 'open') return goes;
    }
    return 'open';
  };
  for (let bit = 0; bit < size; bit++) {
    if (!free(bit)) continue;
    const goes = goesWith(flips, bit);
    const orders = ['little', 'big'] as const;
    const above = orders.map((order) => firstOf(bit, (b) => bitAbove(b, order)));
    const below = orders.map((order) => firstOf(bit, (b) => bitBelow(b, order)));
    const shared = above.includes('before') || below.includes('before');
    const open = !alike(bit) || (above.includes('value') && !shared);
    paged[bit] = goes === 'value' || (goes === 'open' && open) ? 1 : 0;
  }
  return paged;
}
