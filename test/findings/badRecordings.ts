/** Recordings that are not enough to tell, made from made-up cars whose layouts are known, and what findings claim of them. */
import { type CarMessage, type MadeCar, madeCar } from '../../bench/cars/car.ts';
import { fieldBits } from '../../src/can/bits.ts';
import { concatenate, groupByMessage, pickFrames } from '../../src/capture/select.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import type { Findings } from '../../src/findings/model.ts';
import { random } from './traffic.ts';

const SECONDS = 10;

export function carOf(seed: number): MadeCar {
  return madeCar(seed, { seconds: SECONDS, messages: 5, multiplexed: 0 });
}

/** A recording made worse; `capture` is not changed. */
export type Worse = (capture: Capture, seed: number) => Capture;

/** The first `frames` frames of each message. */
export function first(frames: number): Worse {
  return (capture) => {
    const kept = groupByMessage(capture).flatMap((group) => [...group.frames.subarray(0, frames)]);
    return pickFrames(capture, Uint32Array.from(kept).sort());
  };
}

/** Everything at rest: each message as it was in its first frame. */
export const still: Worse = (capture) => {
  const payload = capture.payload.slice();
  for (const { frames } of groupByMessage(capture)) {
    const at = capture.offset[frames[0] as number] as number;
    for (const f of frames) {
      const length = capture.length[f] as number;
      payload.set(capture.payload.subarray(at, at + length), capture.offset[f]);
    }
  }
  return { ...capture, payload };
};

/** From the start for so many seconds. */
export function lasting(seconds: number): Worse {
  return (capture) => {
    const frames = Uint32Array.from({ length: capture.count }, (_, i) => i);
    return pickFrames(
      capture,
      frames.filter((f) => (capture.time[f] as number) < seconds),
    );
  };
}

/** Frames cut to lengths drawn anew for each. */
export const changingLength: Worse = (capture, seed) => {
  const dice = random(seed);
  const builder = new CaptureBuilder();
  for (let i = 0; i < capture.count; i++) {
    const whole = capture.length[i] as number;
    const length = dice() < 0.5 ? whole : 1 + Math.floor(dice() * whole);
    const { time, id, payload, offset } = capture;
    builder.add(time[i] as number, 0, id[i] as number, 0, length, payload, offset[i] as number, length);
  }
  return builder.finish();
};

/** The recording after itself. */
export const twice: Worse = (capture) => concatenate([capture, capture], 5);

/** Every frame doubled within a tenth of a millisecond. */
export const doubled: Worse = (capture) => {
  const copy = pickFrames(
    capture,
    Uint32Array.from({ length: 2 * capture.count }, (_, k) => k >> 1),
  );
  const time = copy.time.map((t, k) => (k % 2 ? t + 0.00005 : t));
  return { ...copy, time };
};

/** The clock set forward and back at five places; the frames between are lost half of the times. */
export const jumping: Worse = (capture, seed) => {
  const dice = random(seed);
  const places = Array.from({ length: 5 }, () => Math.floor(dice() * capture.count));
  const lost = places.slice(0, 2).map((at) => [at, at + Math.floor(0.05 * capture.count)] as const);
  const time = capture.time.slice();
  for (const at of places) {
    const jump = (dice() - 0.5) * 60;
    for (let i = at; i < time.length; i++) time[i] = (time[i] as number) + jump;
  }
  const all = Uint32Array.from({ length: capture.count }, (_, i) => i);
  return pickFrames(
    { ...capture, time },
    all.filter((i) => !lost.some(([from, to]) => i >= from && i < to)),
  );
};

export interface BadClaim {
  text: string;
  probability: number;
}

/**
 * Fields, counters and check fields that findings claim and that the car does not have: a field is right where the bits of
 * it that moved are those of one true field that moved. Constants are wrong where they hold bits of a true field.
 */
export function wrongClaims(car: MadeCar, findings: Findings): BadClaim[] {
  return findings.messages.flatMap((found) => {
    const truth = car.messages.find(({ id }) => id === found.id) as CarMessage;
    const moves = (bit: number) => (found.flipRate[bit] ?? 0) > 0;
    const moving = (field: { start: number; length: number; byteOrder: 'little' | 'big' }) =>
      fieldBits(field)
        .filter(moves)
        .sort((a, b) => a - b)
        .join();
    const kept = (kind: string) => truth.signals.filter((s) => s.kind === kind).map(moving);
    const all = truth.signals.map(moving);
    const claims: {
      what: string;
      field: Parameters<typeof moving>[0] & { probability: number };
      right: boolean;
    }[] = [];
    for (const field of found.signals) {
      if (field.kind === 'constant' || field.kind === 'padding') {
        const held = new Set(truth.signals.flatMap((s) => fieldBits(s)));
        claims.push({ what: field.kind, field, right: !fieldBits(field).some((bit) => held.has(bit)) });
      } else claims.push({ what: field.kind, field, right: all.includes(moving(field)) });
    }
    const { counter, check } = found;
    if (counter)
      claims.push({ what: 'counter', field: counter, right: kept('counter').includes(moving(counter)) });
    if (check) claims.push({ what: 'check', field: check, right: kept('check').includes(moving(check)) });
    return claims
      .filter(({ right }) => !right)
      .map(({ what, field }) => ({
        text: `${found.id.toString(16)} ${what} ${field.start}:${field.length} ${field.byteOrder}`,
        probability: field.probability,
      }));
  });
}
