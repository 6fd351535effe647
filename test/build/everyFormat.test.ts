/** Every format that can be written holds every frame that a bus can carry, or refuses before the first byte. */
import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, test } from 'vitest';
import { readCaptureFile, writeCaptureFile } from '../../src/build/captureFile.ts';
import { FILE_FORMATS } from '../../src/build/fileFormats.ts';
import { FLAG } from '../../src/can/frame.ts';
import { CaptureError } from '../../src/capture/error.ts';
import { FORMATS } from '../../src/capture/formats/list.ts';
import { captureOf, type Frame, frame, framesOf, outOfRange } from '../capture/frames.ts';

const seed = Number(process.env.SEED ?? 20261126);
console.log(`random frames with seed ${seed}`);
const folder = mkdtempSync(join(tmpdir(), 'bywright-formats-'));
afterAll(() => rmSync(folder, { recursive: true }));

const FD_LENGTHS = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];

/** Frames with every mixture of flags; those of FD alone only with FD, identifiers and lengths as the flags allow. */
function mixtures(bus: fc.Arbitrary<number>): fc.Arbitrary<Frame[]> {
  const one = fc
    .record({
      flags: fc.nat({ max: 127 }),
      id: fc.nat({ max: 0x1fff_ffff }),
      bus,
      ns: fc.bigInt({ min: 0n, max: 1_000_000_000_000n }),
      size: fc.nat({ max: 15 }),
      bytes: fc.uint8Array({ minLength: 64, maxLength: 64 }),
    })
    .map(({ flags: drawn, id, bus, ns, size, bytes }): Frame => {
      const fd = (drawn & FLAG.fd) !== 0;
      const flags = fd ? drawn : drawn & ~(FLAG.bitRateSwitch | FLAG.errorState);
      const length = fd ? (FD_LENGTHS[size] as number) : size % 9;
      return {
        ns: 1_700_000_000_000_000_000n + ns,
        bus,
        id: flags & (FLAG.extended | FLAG.error) ? id : id & 0x7ff,
        flags,
        length,
        data: flags & FLAG.remote ? [] : [...bytes.subarray(0, length)],
      };
    });
  return fc.array(one, { minLength: 1, maxLength: 30 });
}

const writable = [...FORMATS.filter((format) => format.write), ...FILE_FORMATS];

describe.each(writable.map((format) => [format.name, format] as const))('%s', (name, format) => {
  const path = join(folder, `any${format.extensions[0]}`);
  const isPcap = name === 'pcap';

  test('frames of every mixture of flags come back as they were', async () => {
    let seen = 0;
    await fc.assert(
      fc.asyncProperty(mixtures(isPcap ? fc.constant(0) : fc.nat({ max: 255 })), async (frames) => {
        const capture = captureOf(frames);
        const lost = await writeCaptureFile(path, capture, name);
        const read = await readCaptureFile(path);
        // pcap has no place for who sent a frame, and says so.
        const sent = frames.some(({ flags }) => flags & FLAG.sent);
        expect(lost.length).toBe(isPcap && sent ? 1 : 0);
        const due = isPcap ? frames.map((f) => ({ ...f, flags: f.flags & ~FLAG.sent })) : frames;
        expect(framesOf(read.capture)).toEqual(due);
        expect(outOfRange(read.capture)).toBeNull();
        for (const { flags } of frames) seen |= 1 << (flags & 7);
      }),
      { seed, numRuns: name === 'parquet' ? 15 : 60 },
    );
    // Extended, remote and error in all eight mixtures.
    expect(seen).toBe(255);
  });

  test.each<[string, Frame, RegExp]>([
    [
      'a length between those of FD',
      frame(5, 1, Array(9).fill(0), { flags: FLAG.fd }),
      /^Frame 1 has 9 bytes of payload: a FD frame has 0 to 8, 12/,
    ],
    [
      'a base identifier of 12 bits',
      frame(5, 0x800, [1]),
      /^Frame 1 has the identifier 800: the greatest of 11 bits is 7FF\.$/,
    ],
    [
      'an identifier of 30 bits',
      frame(5, 0x2000_0000, [1], { flags: FLAG.extended }),
      /^Frame 1 has the identifier 20000000: the greatest of 29 bits is 1FFFFFFF\.$/,
    ],
    [
      'a bit-rate switch without FD',
      frame(5, 1, [1], { flags: FLAG.bitRateSwitch }),
      /^Frame 1 is no FD frame and has a bit-rate switch or an error state: only FD frames have them\.$/,
    ],
    ['an error state without FD', frame(5, 1, [1], { flags: FLAG.errorState }), /^Frame 1 is no FD frame/],
  ])('%s is refused by the number of the frame, before a byte is written', async (_, bad, words) => {
    const target = join(folder, `refused${format.extensions[0]}`);
    const capture = captureOf([frame(1, 1, [1]), bad]);
    const error = await writeCaptureFile(target, capture, name).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(CaptureError);
    expect((error as Error).message.replace(`${target}: `, '')).toMatch(words);
    expect(existsSync(target)).toBe(false);
    expect(readdirSync(folder).filter((entry) => entry.endsWith('.tmp'))).toEqual([]);
    if ('open' in format) expect(() => format.write?.(capture).next()).toThrow(CaptureError);
  });
});

test('pcap says that it holds no number and no name of a bus', async () => {
  const path = join(folder, 'bus.pcap');
  const capture = { ...captureOf([frame(1, 1, [1], { bus: 3 })]), busNames: new Map([[3, 'chassis']]) };
  expect(await writeCaptureFile(path, capture)).toEqual([
    'pcap does not say which bus it was (chassis); pcapng does.',
  ]);
});
