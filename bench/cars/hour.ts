/**
 * A long recording made straight into columns, for measuring speed: 100 messages, about 2250 frames a second, drawn from a
 * seed. Messages carry counters, check fields, big-endian numbers that follow shared quantities (so that there are relations
 * to be found), switches, and bits that stand still.
 */
import { writeBits, writeRaw } from '../../src/can/bits.ts';
import { writeCheck } from '../../src/can/check.ts';
import type { Capture } from '../../src/capture/store.ts';
import { Dice } from '../train/dice.ts';

const MESSAGES = 100;
/** How many messages are sent with which period, milliseconds. */
const PERIODS: readonly (readonly [number, number])[] = [
  [10, 10],
  [15, 20],
  [10, 50],
  [20, 100],
  [15, 200],
  [30, 1000],
];
const QUANTITIES = 24;
const LENGTH = 8;

interface Sender {
  id: number;
  periodMs: number;
  phaseMs: number;
  /** Payload bytes as they stand now. */
  payload: Uint8Array;
  numbers: { start: number; length: number; quantity: number; scale: number }[];
  switches: { start: number; quantity: number }[];
  checked: boolean;
}

/** Frames of `seconds` of driving in recorded order; every stamp is up to 0.3 ms late. */
export function madeHour(seed: number, seconds: number): Capture {
  const dice = new Dice(seed);
  const senders = sendersOf(dice);
  const ms = 1000 * seconds;
  const count = senders.reduce((sum, s) => sum + Math.ceil((ms - s.phaseMs) / s.periodMs), 0);
  const capture = {
    count,
    originNs: 0n,
    time: new Float64Array(count),
    id: new Uint32Array(count),
    bus: new Uint8Array(count),
    flags: new Uint8Array(count),
    length: new Uint8Array(count).fill(LENGTH),
    offset: new Uint32Array(count),
    payload: new Uint8Array(LENGTH * count),
  };
  const quantities = new Float64Array(QUANTITIES).map(() => dice.between(-0.5, 0.5));
  const rates = new Float64Array(QUANTITIES);
  const due: Sender[][] = Array.from({ length: 1000 }, () => []);
  for (const sender of senders)
    for (let t = sender.phaseMs; t < 1000; t += sender.periodMs) due[t]?.push(sender);
  let i = 0;
  let late = 0;
  for (let t = 0; t < ms; t++) {
    if (t % 10 === 0) drive(dice, quantities, rates);
    for (const sender of due[t % 1000] as Sender[]) {
      send(sender, Math.floor((t - sender.phaseMs) / sender.periodMs), quantities);
      late = Math.max(late, t / 1000) + 0.0001 + 0.00004 * dice.next();
      capture.time[i] = late;
      capture.id[i] = sender.id;
      capture.offset[i] = LENGTH * i;
      capture.payload.set(sender.payload, LENGTH * i);
      i++;
    }
  }
  return capture;
}

function sendersOf(dice: Dice): Sender[] {
  const periods = PERIODS.flatMap(([many, period]) => new Array<number>(many).fill(period));
  return Array.from({ length: MESSAGES }, (_, m): Sender => {
    const periodMs = periods[m] as number;
    const checked = m % 3 === 0;
    const numbers: Sender['numbers'] = [];
    const switches: Sender['switches'] = [];
    const last = checked ? 6 : LENGTH;
    for (let byte = 0; byte < last; ) {
      const kind = dice.pick(['word', 'word', 'byte', 'switches', 'still'] as const);
      const quantity = dice.whole(0, QUANTITIES - 1);
      const scale = dice.between(0.4, 0.9);
      if (kind === 'word' && byte + 1 < last) {
        numbers.push({ start: 8 * byte + 7, length: 16, quantity, scale });
        byte++;
      } else if (kind === 'byte') numbers.push({ start: 8 * byte + 7, length: 8, quantity, scale });
      else if (kind === 'switches') {
        switches.push({ start: 8 * byte + dice.whole(0, 3), quantity });
        switches.push({ start: 8 * byte + 4 + dice.whole(0, 3), quantity: dice.whole(0, QUANTITIES - 1) });
      }
      byte++;
    }
    const phaseMs = dice.whole(0, Math.min(999, periodMs - 1));
    return {
      id: 0x80 + 11 * m,
      periodMs,
      phaseMs,
      payload: new Uint8Array(LENGTH),
      numbers,
      switches,
      checked,
    };
  });
}

/** Quantities between −1 and 1 that move as something with mass does. */
function drive(dice: Dice, quantities: Float64Array, rates: Float64Array): void {
  for (let q = 0; q < QUANTITIES; q++) {
    const at = quantities[q] as number;
    const slow = 0.0002 * (1 + (q % 6));
    rates[q] = 0.98 * (rates[q] as number) + slow * (dice.next() - 0.5 - 0.1 * at);
    quantities[q] = Math.max(-1, Math.min(1, at + (rates[q] as number)));
  }
}

function send(sender: Sender, n: number, quantities: Float64Array): void {
  const { payload } = sender;
  for (const { start, length, quantity, scale } of sender.numbers) {
    const top = 2 ** (length - 1) - 1;
    const field = { start, length, byteOrder: 'big', signed: true } as const;
    writeRaw(payload, 0, field, Math.round((quantities[quantity] as number) * scale * top));
  }
  for (const { start, quantity } of sender.switches)
    writeBits(
      payload,
      0,
      { start, length: 1, byteOrder: 'little' },
      (quantities[quantity] as number) > 0.2 ? 1 : 0,
    );
  if (!sender.checked) return;
  writeBits(payload, 0, { start: 48, length: 4, byteOrder: 'little' }, n % 16);
  writeCheck(CHECK, sender.id, payload, 0, LENGTH, undefined);
}

const CHECK = {
  start: 56,
  length: 8,
  byteOrder: 'little' as const,
  algorithm: 'crc' as const,
  width: 8,
  poly: 0x1d,
  init: 0xff,
  xorout: 0xff,
  reflected: false,
  covers: [0, 1, 2, 3, 4, 5, 6],
  prefix: [],
  suffix: [],
  idBytes: [],
  perCounter: null,
};
