/** Made-up traffic with known truth for the tests of findings. Every generator is seeded. */
import { writeBits } from '../../src/can/bits.ts';
import { type CheckField, writeCheck } from '../../src/can/check.ts';
import { FLAG } from '../../src/can/frame.ts';
import { groupByMessage } from '../../src/capture/select.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { type MessageRows, messageRows, sessionsOf } from '../../src/findings/rows.ts';

/** Numbers 0 ≤ x < 1 from a 32-bit seed (a Weyl sequence, mixed by multiplication). */
export function random(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x9e37_79b9) >>> 0;
    let x = Math.imul(state ^ (state >>> 16), 0x85eb_ca6b);
    x = Math.imul(x ^ (x >>> 13), 0xc2b2_ae35);
    return ((x ^ (x >>> 16)) >>> 0) / 2 ** 32;
  };
}

export interface Sender {
  id: number;
  extended?: boolean;
  bus?: number;
  length: number;
  periodS?: number;
  frames: number;
  /** Fills the payload of frame `i`. */
  fill: (payload: Uint8Array, i: number) => void;
  counter?: { start: number; length: number; byteOrder: 'little' | 'big'; value: (i: number) => number };
  check?: CheckField;
  /** Share of frames that the recorder missed. */
  lost?: number;
  seed?: number;
}

/** All frames of all senders, by time. */
export function captureOf(senders: readonly Sender[]): Capture {
  const frames = senders.flatMap((sender, s) => framesOf(sender, s));
  frames.sort((a, b) => a.time - b.time);
  const builder = new CaptureBuilder();
  for (const { time, sender, payload } of frames) {
    const flags = sender.extended ? FLAG.extended : 0;
    builder.add(time, sender.bus ?? 0, sender.id, flags, payload.length, payload, 0, payload.length);
  }
  return builder.finish();
}

/** The rows of one sender. */
export function rowsOf(sender: Sender): MessageRows {
  const capture = captureOf([sender]);
  const [message] = groupByMessage(capture);
  if (!message) throw new Error('the sender sent nothing');
  return messageRows(capture, message, sessionsOf(capture));
}

function framesOf(sender: Sender, phase: number) {
  const dice = random((sender.seed ?? 1) * 7919 + sender.id);
  const frames: { time: number; sender: Sender; payload: Uint8Array }[] = [];
  for (let i = 0; i < sender.frames; i++) {
    const payload = new Uint8Array(sender.length);
    sender.fill(payload, i);
    const value = sender.counter?.value(i);
    if (sender.counter) writeBits(payload, 0, sender.counter, value as number);
    if (sender.check) writeCheck(sender.check, sender.id, payload, 0, payload.length, value);
    if (dice() < (sender.lost ?? 0)) continue;
    const period = sender.periodS ?? 0.01;
    frames.push({ time: i * period + 0.0003 * phase + 0.00005 * dice(), sender, payload });
  }
  return frames;
}

/** A check field with everything at rest but what is given. */
export function checkField(part: Partial<CheckField>): CheckField {
  return {
    start: 56,
    length: 8,
    byteOrder: 'little',
    algorithm: 'crc',
    width: 8,
    poly: 0x1d,
    init: 0,
    xorout: 0,
    reflected: false,
    covers: [0, 1, 2, 3, 4, 5, 6],
    prefix: [],
    suffix: [],
    idBytes: [],
    perCounter: null,
    ...part,
  };
}

/** Bytes that move as signals do: a slow ramp, a noisy value, a rare flag, the rest still. */
export function driving(seed: number, rest = 0x30): (payload: Uint8Array, i: number) => void {
  const dice = random(seed);
  let speed = 4000 + Math.floor(dice() * 2000);
  let flag = 0;
  return (payload) => {
    speed = Math.max(0, Math.min(65535, speed + Math.round((dice() - 0.5) * 60)));
    if (dice() < 0.01) flag ^= 1;
    payload.fill(rest);
    if (payload.length > 1) writeBits(payload, 0, { start: 0, length: 16, byteOrder: 'little' }, speed);
    if (payload.length > 2) payload[2] = 0x80 + Math.floor(dice() * 16);
    if (payload.length > 3) payload[3] = flag << 5;
  };
}
