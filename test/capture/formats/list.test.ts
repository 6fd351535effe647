import { readFileSync } from 'node:fs';
import { isDeepStrictEqual } from 'node:util';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FLAG } from '../../../src/can/frame.ts';
import { CaptureError } from '../../../src/capture/error.ts';
import type { CaptureFormat } from '../../../src/capture/formats/format.ts';
import { FORMATS } from '../../../src/capture/formats/list.ts';
import {
  captureOf,
  type Frame,
  frame,
  framesArbitrary,
  framesOf,
  outOfRange,
  readBytes,
  written,
} from '../frames.ts';

const seed = Number(process.env.SEED ?? 20261125);
console.log(`random recordings with seed ${seed}`);

/** From 0 to 1, evenly: `fc.double` prefers numbers next to 0. */
const share = fc.nat({ max: 2 ** 30 }).map((n) => n / 2 ** 30);

const writers = FORMATS.filter((format) => format.write);
const busesOf = (format: CaptureFormat) => (format.name === 'pcap' ? 'one' : 'many');

describe.each(writers.map((format) => [format.name, format] as const))('%s', (_, format) => {
  test('a capture that was written is read back frame by frame, in pieces of any size', () => {
    fc.assert(
      fc.property(
        framesArbitrary(busesOf(format)),
        fc.array(fc.integer({ min: 1, max: 500 }), { minLength: 1, maxLength: 20 }),
        (frames, pieces) => {
          const bytes = written(format, captureOf(frames));
          const { capture } = readBytes(format, bytes, pieces);
          expect(framesOf(capture)).toEqual(frames);
          expect(outOfRange(capture)).toBeNull();
        },
      ),
      { seed, numRuns: 150 },
    );
  });

  test('a recording cut anywhere gives the frames before the cut, or one sentence', () => {
    fc.assert(
      fc.property(framesArbitrary(busesOf(format)), share, (frames, where) => {
        const bytes = written(format, captureOf(frames));
        const cut = bytes.subarray(0, Math.floor(where * bytes.length));
        const got = reading(format, cut);
        if (got === null) return;
        // Text can lose the end of its last line without a trace; then the note says so.
        const sure =
          got.capture.count - (got.notes.some((note) => note.includes('may be cut short')) ? 1 : 0);
        const kept = framesOf(got.capture).slice(0, sure);
        // MDF holds the kinds of frames one behind the other: some kinds may be whole and others gone.
        if (format.name === 'mdf4') expect(isInOrderOf(kept, frames)).toBe(true);
        else expect(kept).toEqual(frames.slice(0, sure));
      }),
      { seed, numRuns: 200 },
    );
  });

  test('a recording with changed bytes never gives a frame out of range, and never breaks the reader', () => {
    fc.assert(
      fc.property(
        framesArbitrary(busesOf(format)),
        fc.array(fc.tuple(share, fc.nat({ max: 255 })), {
          minLength: 1,
          maxLength: 8,
        }),
        (frames, changes) => {
          const bytes = written(format, captureOf(frames));
          for (const [where, value] of changes) bytes[Math.floor(where * (bytes.length - 1))] = value;
          const got = reading(format, bytes, [97, 64, 1000]);
          if (got !== null) expect(outOfRange(got.capture)).toBeNull();
        },
      ),
      { seed, numRuns: 300 },
    );
  });

  test('the start of what it writes is recognised as this format and no other', () => {
    const bytes = written(format, captureOf([frame(0, 0x1a0, [1, 2]), frame(1000, 0x1a1, [3, 4])]));
    expect(FORMATS.filter((other) => other.recognises(bytes)).map((other) => other.name)).toEqual([
      format.name,
    ]);
  });

  test('random bytes end in one sentence', () => {
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 0, maxLength: 300 }), (bytes) => {
        const got = reading(format, bytes);
        if (got !== null) expect(outOfRange(got.capture)).toBeNull();
      }),
      { seed, numRuns: 200 },
    );
  });

  test('a frame longer than frames can be is refused when writing, with its number', () => {
    const frames = [frame(0, 1, [1]), frame(10, 2, [1, 2, 3, 4, 5, 6, 7, 8, 9])];
    if (format.name === 'text') return;
    expect(() => written(format, captureOf(frames))).toThrow(
      /Frame 1 has 9 bytes of payload: a classical frame has at most 8/,
    );
  });

  test('an empty recording is called empty', () => {
    expect(() => readBytes(format, new Uint8Array(0))).toThrow(/empty/);
  });
});

test('sent frames stay marked as sent where the format can say so', () => {
  const frames = [
    frame(5, 0x1a0, [1, 2, 3], { flags: FLAG.sent }),
    frame(6, 0x1a0, [1, 2, 4]),
    frame(7, 0x1234567, [], { flags: FLAG.sent | FLAG.extended }),
  ];
  for (const format of writers.filter((f) => f.name !== 'pcap')) {
    expect(framesOf(readBytes(format, written(format, captureOf(frames))).capture)).toEqual(frames);
  }
});

test('every format has a line in the list for readers', () => {
  const page = readFileSync(new URL('../../../src/capture/formats/README.md', import.meta.url), 'utf8');
  for (const format of FORMATS) expect(page).toMatch(new RegExp(`^\\| ${format.name} +\\|`, 'm'));
});

/** Whether the frames of `part` are frames of `all`, in their order. */
function isInOrderOf(part: readonly Frame[], all: readonly Frame[]): boolean {
  let at = 0;
  for (const one of part) {
    while (at < all.length && !isDeepStrictEqual(one, all[at])) at++;
    if (at++ >= all.length) return false;
  }
  return true;
}

/** What was read, or null where it was refused in one sentence; any other outcome fails the test. */
function reading(format: CaptureFormat, bytes: Uint8Array, pieces?: number[]) {
  try {
    return readBytes(format, bytes, pieces);
  } catch (error) {
    expect(error).toBeInstanceOf(CaptureError);
    expect((error as Error).message).toMatch(/^[A-Z].*[.]$/s);
    expect((error as Error).message).not.toMatch(/\n/);
    return null;
  }
}
