import { expect, test } from 'vitest';
import { CaptureBuilder } from '../../src/capture/store.ts';
import { framesOf, outOfRange } from './frames.ts';

test('a builder grows past its first size without losing a frame', () => {
  const builder = new CaptureBuilder(1);
  const data = Uint8Array.from({ length: 64 }, (_, k) => k);
  for (let n = 0; n < 1000; n++) builder.add(n / 8, n % 3, n, 0, n % 9, data, n % 50, n % 9);
  const capture = builder.finish();
  expect(outOfRange(capture)).toBeNull();
  expect(framesOf(capture)[777]).toEqual({
    ns: 97_125_000_000n,
    bus: 0,
    id: 777,
    flags: 0,
    length: 3,
    data: [27, 28, 29],
  });
});

test('frames written into reserved room count once they are committed', () => {
  const builder = new CaptureBuilder();
  builder.add(0, 0, 1, 0, 1, Uint8Array.of(9), 0, 1);
  const room = builder.reserve(100_000, 8);
  expect(builder.count).toBe(1);
  room.id[1] = 5;
  room.length[1] = 2;
  room.offset[1] = builder.used;
  room.payload.set([7, 8], builder.used);
  builder.commit(1, 2);
  expect(framesOf(builder.finish()).map((f) => [f.id, f.data])).toEqual([
    [1, [9]],
    [5, [7, 8]],
  ]);
});

test('the frame added last can be taken back, with its payload', () => {
  const builder = new CaptureBuilder();
  builder.add(0, 0, 1, 0, 2, Uint8Array.of(1, 2), 0, 2);
  builder.add(1, 0, 2, 0, 2, Uint8Array.of(3, 4), 0, 2);
  builder.dropLast();
  builder.add(2, 0, 3, 0, 1, Uint8Array.of(5), 0, 1);
  expect(outOfRange(builder.finish())).toBeNull();
  expect(framesOf(builder.finish()).map((f) => [f.id, f.data])).toEqual([
    [1, [1, 2]],
    [3, [5]],
  ]);
});

test('more than a capture can hold is refused in a sentence, before memory is taken', () => {
  expect(() => new CaptureBuilder().reserve(2 ** 30, 0)).toThrow(
    /more than one capture can .*: split it into shorter recordings\.$/,
  );
  expect(() => new CaptureBuilder().reserve(1, 2 ** 32)).toThrow(/4 GiB of payload/);
});
