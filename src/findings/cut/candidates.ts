/** Every stretch of bits that could be one field, in both byte orders, with its code lengths. */
import type { MessageRows } from '../rows.ts';
import { type BlockFacts, blocksOf } from './block.ts';
import { type CodeLengths, codeLengths } from './codeLengths.ts';
import { type Lane, MOVES, TAKEN } from './lane.ts';
import type { Sample } from './sample.ts';

export type CodeName = 'enumeration' | 'number' | 'modular' | 'uniform' | 'counter' | 'levels';

export interface Candidate {
  /** First and last position in the lane; both move. */
  from: number;
  to: number;
  /** Positions in between that move, with both ends. */
  active: number;
  codes: CodeLengths;
  /** Cheapest code and its length in nats. */
  code: CodeName;
  cost: number;
  /** Present where it is a block of data rather than a field. */
  block?: BlockFacts;
}

/** Fields of up to this many bits are looked for. */
export const WIDEST_FIELD = 32;

/** Values weighed, over all candidates, after which the caller gets a turn: some tenths of a second. */
const VALUES_A_STEP = 1_000_000;

/**
 * All candidates of a lane, by `from` then `to`, blocks last. Fields inside one byte are the same in both lanes: pass the
 * `inByte` cache of one lane to the other. Yields now and then the share that is done.
 */
export function* candidatesOf(
  rows: MessageRows,
  sample: Sample,
  lane: Lane,
  inByte: Map<number, Candidate>,
): Generator<number, Candidate[]> {
  let weighed = 0;
  const found: Candidate[] = [];
  const n = sample.frames.length;
  const values = new Uint32Array(n);
  const ranks = new Uint16Array(n);
  for (let from = 0; from < lane.bits.length; from++) {
    if (lane.state[from] !== MOVES) continue;
    values.fill(0);
    ranks.fill(0);
    let distinct = 1;
    let active = 0;
    for (let to = from; to < lane.bits.length && to - from < WIDEST_FIELD; to++) {
      const state = lane.state[to];
      if (state === TAKEN) break;
      const bit = lane.bits[to] as number;
      // A bit that stands still adds its constant to every value, as it does to the true field.
      distinct = refine(rows, sample, bit, to - from, values, ranks, distinct);
      if (state !== MOVES) continue;
      active++;
      const key = to >> 3 === from >> 3 ? 64 * (lane.bits[from] as number) + bit : -1;
      const known = key >= 0 ? inByte.get(key) : undefined;
      if (known) {
        found.push({ ...known, from, to });
        continue;
      }
      const series = { values, begins: sample.begins, ranks, distinct, width: to - from + 1, active };
      const codes = codeLengths(series);
      weighed += n;
      const candidate = { from, to, active, codes, ...cheapest(codes) };
      if (key >= 0) inByte.set(key, candidate);
      found.push(candidate);
    }
    if (weighed >= VALUES_A_STEP) {
      weighed = 0;
      yield from / lane.bits.length;
    }
  }
  found.push(...blocksOf(rows, sample, lane));
  return found;
}

/** Cost of the best number code, of whatever sign. */
export function numberCost(codes: CodeLengths): number {
  return Math.min(codes.unsigned, codes.signed, codes.magnitude);
}

function cheapest(codes: CodeLengths): { code: CodeName; cost: number } {
  const choices: [CodeName, number][] = [
    ['enumeration', codes.enumeration],
    ['number', numberCost(codes)],
    ['modular', codes.modular],
    ['uniform', codes.uniform],
    ['counter', codes.counter],
    ['levels', codes.levels],
  ];
  const [code, cost] = choices.reduce((best, choice) => (choice[1] < best[1] ? choice : best));
  return { code, cost };
}

let numbering = new Int32Array(4096);

/** Adds one bit on top of all values and renumbers the distinct ones; returns how many there are. */
function refine(
  rows: MessageRows,
  sample: Sample,
  bit: number,
  place: number,
  values: Uint32Array,
  ranks: Uint16Array,
  distinct: number,
): number {
  if (numbering.length < 2 * distinct) numbering = new Int32Array(4 * distinct);
  numbering.fill(-1, 0, 2 * distinct);
  const { payload, length } = rows;
  const byte = bit >> 3;
  const shift = bit & 7;
  let next = 0;
  for (let k = 0; k < values.length; k++) {
    const set = ((payload[(sample.frames[k] as number) * length + byte] as number) >> shift) & 1;
    if (set) values[k] = ((values[k] as number) | (1 << place)) >>> 0;
    const slot = 2 * (ranks[k] as number) + set;
    let number = numbering[slot] as number;
    if (number < 0) {
      number = next++;
      numbering[slot] = number;
    }
    ranks[k] = number;
  }
  return next;
}
