import fc from 'fast-check';
import { expect, test } from 'vitest';
import { deltaBytes } from '../../../src/build/cache/delta.ts';

/** Reads DELTA_BINARY_PACKED as the Parquet format's Encodings.md tells it, for any width. */
function read(bytes: Uint8Array): number[] {
  let at = 0;
  const varint = () => {
    let value = 0;
    for (let shift = 1; ; shift *= 128) {
      const byte = bytes[at++] as number;
      value += (byte & 127) * shift;
      if (byte < 128) return value;
    }
  };
  const zigzag = () => {
    const value = varint();
    return value % 2 === 0 ? value / 2 : -(value + 1) / 2;
  };
  const [block, parts, total] = [varint(), varint(), varint()] as const;
  const values = [zigzag()];
  while (values.length < total) {
    const least = zigzag();
    const widths = bytes.subarray(at, at + parts);
    at += parts;
    for (let p = 0; p < parts && values.length < total; p++) {
      const width = widths[p] as number;
      for (let k = 0; k < block / parts; k++) {
        let difference = least;
        for (let b = 0; b < width; b++) {
          const bit = k * width + b;
          difference += (((bytes[at + (bit >> 3)] as number) >> (bit & 7)) & 1) * 2 ** b;
        }
        if (values.length < total) values.push((values.at(-1) as number) + difference);
      }
      at += (width * (block / parts)) / 8;
    }
  }
  expect(at).toBe(bytes.length);
  return values;
}

test('numbers are read back by the words of the format, and alike ones take next to nothing', () => {
  fc.assert(
    fc.property(
      fc.array(fc.constantFrom(0, 1, 7, 8, 64, 127), { minLength: 1, maxLength: 700 }),
      (values) => {
        expect(read(deltaBytes(Uint8Array.from(values)))).toEqual(values);
      },
    ),
  );
  expect(deltaBytes(new Uint8Array(128_000).fill(8)).length).toBeLessThan(5100);
});
