/**
 * Senders of made-up messages whose counter and check field are known: every kind of check that findings look for, in any
 * place, drawn from a seed. Real traffic shows few of these kinds with their truth; this shows all.
 */
import { bytesNeeded, fieldBits, readBits, sharedBits, writeBits } from '../../src/can/bits.ts';
import { type CheckField, checkFunction } from '../../src/can/check.ts';
import type { FoundCheck } from '../../src/findings/model.ts';
import { driving, random, rowsOf, type Sender } from './traffic.ts';

export interface Protected {
  /** What was drawn, in words, for messages of tests. */
  words: string;
  sender: Sender & { check: CheckField };
}

export type Kind = 'crc' | 'xor' | 'sum' | 'sumComplement' | 'nibbleSum';

export interface Drawn {
  kind: Kind;
  seed: number;
  frames: number;
  /** Bits of the check; drawn where absent. */
  width?: number;
  /** Keep to whole bytes; anywhere where absent. */
  place?: 'byte';
  perCounter?: 'yes';
}

type Place = Pick<CheckField, 'start' | 'length' | 'byteOrder'>;

/** A message of 8 bytes with a counter of 4 bits and a check of one kind; everything else about it is drawn. */
export function drawn({ kind, seed, frames, width, place, perCounter }: Drawn): Protected {
  const dice = random(seed * 2_654_435 + 17);
  const below = (n: number) => Math.floor(dice() * n);
  const bits = width ?? (kind === 'crc' ? 4 + below(29) : [4, 8][below(2)]) ?? 8;
  const size = kind === 'xor' ? 8 : bits;
  const check = placed(size, place, below);
  const counter = counterBeside(check, below);
  const full = fullBytes(check);
  const others = Array.from({ length: 8 }, (_, b) => b).filter((b) => !full.includes(b));
  const value = () => below(2 ** Math.min(size, 30));
  const crc = kind === 'crc';
  const field: CheckField = {
    ...check,
    algorithm: kind,
    width: size,
    poly: crc ? value() | 1 : 0,
    init: kind === 'xor' ? 0 : value(),
    xorout: crc || kind === 'xor' ? value() : kind === 'nibbleSum' && dice() < 0.3 ? 2 ** size - 1 : 0,
    reflected: crc && dice() < 0.5,
    covers: dice() < 0.15 ? Array.from({ length: 8 }, (_, b) => b) : others,
    prefix: dice() < 0.3 ? [below(256), below(256)] : [],
    suffix: crc && dice() < 0.3 ? [below(256)] : [],
    idBytes: dice() < 0.3 ? [0, 1] : [],
    perCounter: perCounter ? Array.from({ length: 16 }, value) : null,
  };
  // Powers of x + 1 are no generators that anybody uses: an exclusive-or of bytes has them all.
  if (crc && field.poly === powerOfXPlusOne(size)) field.poly ^= 2;
  return { words: wordsOf(field, seed), sender: senderOf(field, counter, seed, frames) };
}

/** (x + 1)^n without its top term. */
function powerOfXPlusOne(n: number): number {
  let p = 1n;
  for (let k = 0; k < n; k++) p ^= p << 1n;
  return Number(p ^ (1n << BigInt(n)));
}

/** A sender of the field whose free bits move as signals do. */
export function senderOf(field: CheckField, counter: Place, seed: number, frames: number) {
  return {
    id: 0x100 + (seed % 0x600),
    length: 8,
    frames,
    fill: movingBytes(seed),
    counter: { ...counter, value: (i: number) => i % 2 ** counter.length },
    check: field,
    seed,
  };
}

/** Whether both fields are the same bits; inside one byte the two byte orders are. */
export function samePlace(a: Place, b: Place): boolean {
  return fieldBits(a).join() === fieldBits(b).join();
}

/** Frames of fresh traffic of the same sender for which the model gives what was sent, as a share. */
export function foretold(check: FoundCheck, sender: Sender, seed: number): number {
  const rows = rowsOf({ ...sender, fill: movingBytes(seed), seed, frames: 200 });
  const expected = checkFunction(check);
  const { counter } = sender;
  let right = 0;
  for (let i = 0; i < rows.count; i++) {
    const at = i * rows.length;
    const value = counter && readBits(rows.payload, at, counter);
    if (expected(rows.id, rows.payload, at, rows.length, value) === readBits(rows.payload, at, check))
      right++;
  }
  return right / rows.count;
}

/** Four signals and a flag in the first six bytes, the rest still. */
export function movingBytes(seed: number): (payload: Uint8Array, i: number) => void {
  const slow = driving(seed);
  const dice = random(seed ^ 0x5bd1);
  const scratch = new Uint8Array(8);
  let angle = 0x60 + Math.floor(dice() * 64);
  return (payload, i) => {
    slow(scratch, i);
    angle = (angle + Math.round((dice() - 0.5) * 12)) & 255;
    payload.fill(0x20);
    payload.set(scratch.subarray(0, Math.min(4, payload.length)));
    if (payload.length > 4) payload[4] = angle;
    if (payload.length > 5) payload[5] = 0x40 | Math.floor(dice() * 32);
  };
}

function placed(size: number, kind: 'byte' | undefined, below: (n: number) => number): Place {
  if (kind === 'byte') return { start: 8 * below(8), length: size, byteOrder: 'little' };
  for (;;) {
    const byteOrder = below(2) === 0 ? ('little' as const) : ('big' as const);
    const place = { start: below(64), length: size, byteOrder };
    if (bytesNeeded(place) <= 8 && fieldBits(place).every((bit) => bit >= 0)) return place;
  }
}

function counterBeside(check: Place, below: (n: number) => number): Place {
  for (;;) {
    const place = { start: 4 * below(16), length: 4, byteOrder: 'little' as const };
    if (sharedBits(place, check).length === 0) return place;
  }
}

function fullBytes(place: Place): number[] {
  const counts = new Uint8Array(8);
  for (const bit of fieldBits(place)) counts[bit >> 3] = (counts[bit >> 3] as number) + 1;
  return Array.from(counts, (n, b) => (n === 8 ? b : -1)).filter((b) => b >= 0);
}

function wordsOf(field: CheckField, seed: number): string {
  const { algorithm, width, start, byteOrder, poly, reflected, covers, prefix, suffix } = field;
  return `seed ${seed}: ${algorithm} ${width} at ${start} ${byteOrder}, poly ${poly.toString(16)}${reflected ? ' reflected' : ''}, covers ${covers.join('')}, ${prefix.length} before, ${suffix.length} after`;
}

/** Writes a field into every payload of a sender, as a signal that stands still or moves. */
export function withField(
  fill: (payload: Uint8Array, i: number) => void,
  place: Place,
  value: (i: number) => number,
): (payload: Uint8Array, i: number) => void {
  return (payload, i) => {
    fill(payload, i);
    writeBits(payload, 0, place, value(i));
  };
}
