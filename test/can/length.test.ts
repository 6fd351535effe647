import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { crcOfBits } from '../../src/can/crc.ts';
import { FLAG } from '../../src/can/frame.ts';
import {
  CRC15,
  classicalFrameBits,
  fdFrameBits,
  frameBits,
  frameCrc15,
  stuffedBits,
} from '../../src/can/length.ts';

const anyFrame = fc
  .record({
    id: fc.integer({ min: 0, max: 0x1fff_ffff }),
    flags: fc.constantFrom(0, FLAG.extended),
    // Runs of equal bits, where stuffing happens, are common in it.
    payload: fc.array(fc.constantFrom(0, 0xff, 0x0f, 0xf8, 0x83, 0x3c, 0xe1, 0x5a), { maxLength: 8 }),
  })
  .map((f) => ({
    id: f.flags ? f.id : f.id & 0x7ff,
    flags: f.flags,
    payload: Uint8Array.from(f.payload),
  }));

describe('frame length', () => {
  test('no frame is shorter than the least or longer than the worst length', () => {
    fc.assert(
      fc.property(anyFrame, ({ id, flags, payload }) => {
        const bits = classicalFrameBits(id, flags, payload, 0, payload.length);
        const { least, worst } = frameBits(flags, payload.length);
        expect(bits).toBeGreaterThanOrEqual(least);
        expect(bits).toBeLessThanOrEqual(worst);
        expect(bits).toBe(stuffedBits(id, flags, payload, 0, payload.length).length + 13);
      }),
      { numRuns: 1000 },
    );
  });

  test('an FD frame stays in its bounds, and its two phases are those of one frame', () => {
    const lengths = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];
    const pattern = fc.array(fc.constantFrom(0, 0xff, 0x0f, 0xf8, 0x83, 0x3c, 0xe1, 0x5a), {
      minLength: 64,
      maxLength: 64,
    });
    fc.assert(
      fc.property(anyFrame, pattern, fc.constantFrom(...lengths), fc.boolean(), (f, bytes, length, state) => {
        const flags = f.flags | FLAG.fd | (state ? FLAG.errorState : 0);
        const payload = Uint8Array.from(bytes).subarray(0, length);
        const slow = fdFrameBits(f.id, flags, payload, 0, length);
        const fast = fdFrameBits(f.id, flags | FLAG.bitRateSwitch, payload, 0, length);
        const { least, worst } = frameBits(flags, length);
        expect(slow.data).toBe(0);
        for (const bits of [slow.nominal, fast.nominal + fast.data]) {
          expect(bits).toBeGreaterThanOrEqual(least);
          expect(bits).toBeLessThanOrEqual(worst);
        }
        // Up to and with the switch, then what comes after the CRC: a few stuff bits more at most.
        expect(fast.nominal - (f.flags ? 49 : 30)).toSatisfy((n: number) => n >= 0 && n <= 8);
      }),
      { numRuns: 1000 },
    );
  });

  test('on the wire there are never six equal bits in a row, and taking the stuff bits out gives a frame whose CRC is 0', () => {
    fc.assert(
      fc.property(anyFrame, ({ id, flags, payload }) => {
        const wire = stuffedBits(id, flags, payload, 0, payload.length);
        expect(wire.join('')).not.toMatch(/0{6}|1{6}/);
        const bits: number[] = [];
        let run = 0;
        for (let i = 0; i < wire.length; i++) {
          bits.push(wire[i] as number);
          run = i > 0 && wire[i] === wire[i - 1] ? run + 1 : 1;
          if (run === 5) {
            i++;
            run = 1;
          }
        }
        expect(crcOfBits(CRC15, bits)).toBe(0);
      }),
      { numRuns: 1000 },
    );
  });

  test('the CRC of a payload in the middle of a buffer is that of the payload alone', () => {
    const payload = Uint8Array.of(9, 9, 1, 2, 3);
    expect(frameCrc15(0x123, 0, payload, 2, 3)).toBe(frameCrc15(0x123, 0, payload.slice(2), 0, 3));
  });
});
