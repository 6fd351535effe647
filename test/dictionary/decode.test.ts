import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { CaptureBuilder } from '../../src/capture/store.ts';
import { writeBits, writeRaw } from '../../src/dictionary/bits.ts';
import { camelKeys } from '../../src/dictionary/case.ts';
import { decodeSignal, messageFrames, physicalValue, rawValue } from '../../src/dictionary/decode.ts';
import type { Message } from '../../src/dictionary/model.ts';
import { messageSchema } from '../../src/dictionary/schema.ts';

const message = camelKeys(
  messageSchema.parse({
    name: 'wheels',
    id: 0x1a0,
    length: 6,
    selector: { start: 0, length: 2 },
    signals: [
      {
        name: 'front',
        start: 15,
        length: 12,
        byte_order: 'big',
        signed: true,
        scale: 0.5,
        offset: -10,
        min: -5,
        max: 90,
      },
      { name: 'rear', start: 32, length: 9, byte_order: 'little', selector_value: 2 },
    ],
  }),
) as Message;
const [front, rear] = message.signals as [Message['signals'][0], Message['signals'][0]];

function capture(frames: { raw: number; selector: number; length?: number; flags?: number; bus?: number }[]) {
  const builder = new CaptureBuilder();
  frames.forEach(({ raw, selector, length = 6, flags = 0, bus = 1 }, k) => {
    const payload = new Uint8Array(8);
    writeRaw(payload, 0, front, raw);
    writeBits(payload, 0, { start: 0, length: 2, byteOrder: 'little' }, selector);
    writeBits(payload, 0, rear, 300 + k);
    builder.add(k / 10, bus, 0x1a0, flags, length, payload, 0, flags & FLAG.remote ? 0 : length);
  });
  return builder.finish();
}

describe('decoding', () => {
  test('every frame of the message gives time, physical value and whether it is to be believed', () => {
    const c = capture([
      { raw: 30, selector: 0 },
      { raw: -40, selector: 2 },
      { raw: 200, selector: 1 },
    ]);
    const series = decodeSignal(c, messageFrames(c, 1, message), message, front);
    expect([...series.time]).toEqual([0, 0.1, 0.2]);
    expect([...series.value]).toEqual([5, -30, 90]);
    expect([...series.valid]).toEqual([1, 0, 1]);
  });

  test('a multiplexed signal is read only where the selector has its value', () => {
    const c = capture([
      { raw: 1, selector: 2 },
      { raw: 1, selector: 1 },
      { raw: 1, selector: 2 },
    ]);
    const series = decodeSignal(c, messageFrames(c, 1, message), message, rear);
    expect([...series.value]).toEqual([300, 302]);
    expect(series.otherSelector).toBe(1);
  });

  test('frames too short for the signal are left out and counted', () => {
    const c = capture([
      { raw: 1, selector: 2 },
      { raw: 2, selector: 2, length: 5 },
      { raw: 3, selector: 2, length: 0 },
    ]);
    const frames = messageFrames(c, 1, message);
    expect(decodeSignal(c, frames, message, rear)).toMatchObject({ tooShort: 2, otherSelector: 0 });
    expect([...decodeSignal(c, frames, message, front).value]).toEqual([-9.5, -9]);
  });

  test('frames of another bus, 29-bit frames of the same number and remote frames are not of the message', () => {
    const c = capture([
      { raw: 1, selector: 0 },
      { raw: 1, selector: 0, bus: 2 },
      { raw: 1, selector: 0, flags: FLAG.extended },
      { raw: 1, selector: 0, flags: FLAG.remote },
      { raw: 1, selector: 0, flags: FLAG.error },
      { raw: 1, selector: 0, flags: FLAG.sent },
    ]);
    expect([...messageFrames(c, 1, message)]).toEqual([0, 5]);
  });

  test('a raw value comes back from its physical one', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -(2 ** 31), max: 2 ** 31 }),
        fc.constantFrom(0.01, 0.5, 1 / 3, -0.1, 7),
        fc.constantFrom(0, -40, 1000.25),
        (raw, scale, offset) => {
          expect(rawValue({ scale, offset }, physicalValue({ scale, offset }, raw))).toBe(raw);
        },
      ),
    );
  });
});
