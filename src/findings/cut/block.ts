/**
 * Blocks of data: stretches of whole bytes to the end of the payload that are no numbers, such as pieces of a text or of a
 * longer message. They may be wider than any field, and are weighed as a whole: which payloads follow which.
 */
import type { MessageRows } from '../rows.ts';
import type { Candidate } from './candidates.ts';
import { LN2 } from './classCode.ts';
import type { CodeLengths } from './codeLengths.ts';
import { type Lane, MOVES, TAKEN } from './lane.ts';
import type { Sample } from './sample.ts';

export interface BlockFacts {
  /** Different contents, and the share of printable bytes among those that move. */
  contents: number;
  printable: number;
  /** Share of frames whose content was seen before. */
  old: number;
}

/** A block holds at least this many bytes, and bits that move. */
const LEAST_BYTES = 5;
const LEAST_BITS = 20;
const LONGEST_PAYLOAD = 8;

/** Blocks of a lane. */
export function blocksOf(rows: MessageRows, sample: Sample, lane: Lane): Candidate[] {
  const { length } = rows;
  if (length > LONGEST_PAYLOAD) return [];
  const found: Candidate[] = [];
  for (let byte = 0; byte + LEAST_BYTES <= length; byte++) {
    const low = lane.order === 'little' ? 8 * byte : 0;
    const high = lane.order === 'little' ? 8 * length : 8 * (length - byte);
    let active = 0;
    let free = true;
    let from = -1;
    let to = -1;
    for (let k = low; k < high; k++) {
      if (lane.state[k] === TAKEN) free = false;
      if (lane.state[k] !== MOVES) continue;
      active++;
      if (from < 0) from = k;
      to = k;
    }
    if (free && active >= LEAST_BITS)
      found.push({ from, to, active, ...weighed(rows, sample, byte, active) });
  }
  return found;
}

function weighed(rows: MessageRows, sample: Sample, byte: number, active: number) {
  const { payload, length } = rows;
  const number = new Map<string, number>();
  const successors: Map<number, number>[] = [];
  const totals: number[] = [];
  let cost = 0;
  let changes = 0;
  let fresh = 0;
  let printable = 0;
  let was = -1;
  for (let k = 0; k < sample.frames.length; k++) {
    const at = (sample.frames[k] as number) * length;
    const bytes = payload.subarray(at + byte, at + length);
    const key = String.fromCharCode(...bytes);
    let now = number.get(key);
    const known = now !== undefined;
    if (now === undefined) {
      now = number.size;
      number.set(key, now);
      successors.push(new Map());
      totals.push(0);
      fresh++;
      printable += bytes.reduce((n, b) => n + (b >= 32 && b < 127 ? 1 : 0), 0) / bytes.length;
    }
    const dear = known ? Math.log(number.size) : active * LN2;
    if (was < 0 || sample.begins[k]) cost += dear;
    else {
      const next = successors[was] as Map<number, number>;
      const total = totals[was] as number;
      const count = next.get(now) ?? 0;
      if (count > 0) cost += Math.log((total + next.size) / count);
      else cost += dear + (total > 0 ? Math.log((total + next.size) / next.size) : 0);
      next.set(now, count + 1);
      totals[was] = total + 1;
      if (now !== was) changes++;
    }
    was = now;
  }
  const frames = sample.frames.length;
  const none = Number.POSITIVE_INFINITY;
  const codes: CodeLengths = {
    enumeration: cost,
    unsigned: none,
    signed: none,
    magnitude: none,
    modular: none,
    uniform: frames * active * LN2,
    counter: none,
    levels: none,
    line: none,
    distinct: number.size,
    changes,
    wraps: 0,
    middles: 0,
    shortWraps: 0,
    topFlips: 0,
    shortTopFlips: 0,
  };
  const block: BlockFacts = {
    contents: number.size,
    printable: printable / Math.max(1, number.size),
    old: 1 - fresh / Math.max(1, frames),
  };
  return { codes, code: 'enumeration' as const, cost, block };
}
