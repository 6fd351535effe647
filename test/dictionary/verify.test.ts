import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { writeCheck } from '../../src/can/check.ts';
import { CaptureBuilder } from '../../src/capture/store.ts';
import { writeBits } from '../../src/dictionary/bits.ts';
import { camelKeys } from '../../src/dictionary/case.ts';
import { nextCounter, verifyCounter } from '../../src/dictionary/counter.ts';
import { messageFrames } from '../../src/dictionary/decode.ts';
import type { Check, Counter, Message } from '../../src/dictionary/model.ts';
import { messageSchema } from '../../src/dictionary/schema.ts';
import { verifyCheck } from '../../src/dictionary/verify.ts';

const message = camelKeys(
  messageSchema.parse({
    name: 'brake',
    id: 0x220,
    length: 8,
    counter: { start: 5, length: 4, skip: [15] },
    check: {
      start: 56,
      length: 8,
      algorithm: 'crc',
      poly: 0x2f,
      init: 0xff,
      xorout: 0xff,
      covers: [0, 1, 2, 3, 4, 5, 6],
      id_bytes: [0],
      per_counter: Array.from({ length: 16 }, (_, k) => (k * 37) & 0xff),
    },
  }),
) as Message;
const counter = message.counter as Counter;
const check = message.check as Check;

/** Frames with these counter values, each with its right check; `spoil` may damage a payload afterwards. */
function capture(values: number[], spoil: (payload: Uint8Array, k: number) => number = () => 8) {
  const builder = new CaptureBuilder();
  values.forEach((value, k) => {
    const payload = Uint8Array.of(k, 7 * k, 3, 0, 0, k >> 3, 0xaa, 0);
    writeBits(payload, 0, counter, value);
    writeCheck(check, message.id, payload, 0, 8, value);
    const length = spoil(payload, k);
    builder.add(k / 100, 0, message.id, 0, length, payload, 0, length);
  });
  const c = builder.finish();
  return { c, frames: messageFrames(c, 0, message) };
}

function count(frames: number): number[] {
  const values = [3];
  while (values.length < frames) values.push(nextCounter(counter, values.at(-1) as number));
  return values;
}

describe('counters', () => {
  test('a counter that skips 15 goes from 14 to 0', () => {
    expect(nextCounter({ length: 4, step: 1, skip: [15] }, 14)).toBe(0);
    expect(nextCounter({ length: 4, step: 1, skip: [0, 15] }, 14)).toBe(1);
  });

  test('whatever the step and the skipped values, a counter stays in its field and off them', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 2, max: 8 }),
        fc.integer({ min: -20, max: 20 }),
        fc.array(fc.integer({ min: 0, max: 10 }), { maxLength: 3 }),
        fc.nat(),
        (length, step, skip, start) => {
          const value = start % 2 ** length;
          const next = nextCounter({ length, step, skip }, value);
          expect(next).toBeGreaterThanOrEqual(0);
          expect(next).toBeLessThan(2 ** length);
          if (next !== value) expect(skip).not.toContain(next);
        },
      ),
    );
  });

  test('an undisturbed counter agrees at every step', () => {
    const { c, frames } = capture(count(100));
    expect(verifyCounter(c, frames, counter)).toEqual({
      frames: 100,
      steps: 99,
      agree: 99,
      repeats: 0,
      jumps: 0,
      skippedSeen: 0,
      tooShort: 0,
      firstBreak: -1,
    });
  });

  test('repeats, lost frames, forbidden values and short frames are told apart', () => {
    const { c, frames } = capture([1, 2, 2, 3, 6, 7, 15, 8], (_, k) => (k === 5 ? 1 : 8));
    expect(verifyCounter(c, frames, counter)).toEqual({
      frames: 7,
      steps: 6,
      agree: 2,
      repeats: 1,
      jumps: 3,
      skippedSeen: 1,
      tooShort: 1,
      firstBreak: 2,
    });
  });
});

describe('check fields over a capture', () => {
  test('sound frames agree, each damaged one does not, short ones are counted apart', () => {
    const { c, frames } = capture(count(60), (payload, k) => {
      if (k === 20 || k === 40) payload[2] = (payload[2] as number) ^ 0x10;
      return k === 50 ? 7 : 8;
    });
    expect(verifyCheck(c, frames, message)).toEqual({ frames: 59, agree: 57, tooShort: 1, firstWrong: 20 });
  });

  test('a frame under another identifier does not agree where the identifier is folded in', () => {
    const { c, frames } = capture(count(10));
    c.id[4] = 0x221;
    expect(verifyCheck(c, frames, message)).toMatchObject({ agree: 9, firstWrong: 4 });
  });

  test('a message without a check has no report', () => {
    const { c, frames } = capture(count(3));
    expect(verifyCheck(c, frames, { ...message, check: undefined })).toBeNull();
  });
});
