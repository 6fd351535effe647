/** Random messages whose fields do not overlap, with every kind of check field and counter that the gateway handles. */
import fc from 'fast-check';
import { camelKeys } from '../../src/dictionary/case.ts';
import type { Message } from '../../src/dictionary/model.ts';
import { messageSchema } from '../../src/dictionary/schema.ts';

export const arbitraryMessage: fc.Arbitrary<Message> = fc
  .record({
    length: fc.integer({ min: 4, max: 8 }),
    byteOrder: fc.constantFrom('little' as const, 'big' as const),
    gaps: fc.array(fc.integer({ min: 0, max: 3 }), { minLength: 4, maxLength: 4 }),
    order: fc.shuffledSubarray([0, 1, 2, 3], { minLength: 4, maxLength: 4 }),
    checkLength: fc.integer({ min: 3, max: 8 }),
    counterLength: fc.integer({ min: 2, max: 4 }),
    signalLengths: fc.tuple(fc.integer({ min: 1, max: 5 }), fc.integer({ min: 2, max: 6 })),
    signed: fc.tuple(
      fc.constantFrom(false, true, 'magnitude' as const),
      fc.constantFrom(false, true, 'magnitude' as const),
    ),
    algorithm: fc.constantFrom('crc', 'xor', 'sum', 'sumComplement', 'nibbleSum'),
    wide: fc.boolean(),
    width: fc.integer({ min: 3, max: 16 }),
    words: fc.tuple(fc.nat(0xffff), fc.nat(0xffff), fc.nat(0xffff)),
    reflected: fc.boolean(),
    extended: fc.boolean(),
    id: fc.nat(0x7ff),
    coversSeed: fc.array(fc.nat(7), { minLength: 1, maxLength: 9 }),
    prefix: fc.array(fc.nat(255), { maxLength: 2 }),
    suffix: fc.array(fc.nat(255), { maxLength: 2 }),
    idBytes: fc.subarray([0, 1, 2, 3]),
    constants: fc.option(fc.array(fc.nat(7), { minLength: 16, maxLength: 16 })),
    step: fc.constantFrom(1, 1, 1, 3, -1, 5),
    skip: fc.subarray([0, 1, 2, 3, 15], { maxLength: 2 }),
    protection: fc.constantFrom('both', 'both', 'check', 'counter', 'none'),
  })
  .map((r) => {
    const lengths = [r.checkLength, r.counterLength, ...r.signalLengths];
    const starts: number[] = [];
    let at = 0;
    r.order.forEach((field, i) => {
      at += r.gaps[i] as number;
      // In the big-endian walk each byte is counted from its top bit.
      starts[field] = r.byteOrder === 'little' ? at : at ^ 7;
      at += lengths[field] as number;
    });
    const width = r.algorithm === 'crc' ? (r.wide ? 16 : 8) : Math.max(r.width, 3);
    const low = (v: number) => v % 2 ** width;
    const size = 2 ** r.counterLength;
    const counter = {
      start: starts[1],
      length: r.counterLength,
      byte_order: r.byteOrder,
      step: r.step,
      skip: r.skip.filter((v) => v < size),
    };
    const check = {
      start: starts[0],
      length: r.checkLength,
      byte_order: r.byteOrder,
      algorithm: r.algorithm,
      width,
      poly: low(r.words[0]) | 1,
      init: low(r.words[1]),
      xorout: low(r.words[2]),
      reflected: r.reflected,
      covers: r.coversSeed.map((v) => v % r.length),
      prefix: r.prefix,
      suffix: r.suffix,
      id_bytes: r.idBytes,
      per_counter: r.constants && r.protection === 'both' ? r.constants.slice(0, size) : null,
    };
    return camelKeys(
      messageSchema.parse({
        name: 'Random',
        id: r.extended ? r.id * 0x3ff + 5 : r.id,
        extended: r.extended,
        length: r.length,
        period_ms: 10,
        ...(r.protection === 'both' || r.protection === 'counter' ? { counter } : {}),
        ...(r.protection === 'both' || r.protection === 'check' ? { check } : {}),
        signals: [
          {
            name: 'first',
            start: starts[2],
            length: r.signalLengths[0],
            byte_order: r.byteOrder,
            signed: r.signalLengths[0] === 1 ? false : r.signed[0],
          },
          {
            name: 'second',
            start: starts[3],
            length: r.signalLengths[1],
            byte_order: r.byteOrder,
            signed: r.signed[1],
          },
        ],
      }),
    ) as Message;
  })
  .filter((m) => {
    const fields = [m.check, m.counter, ...m.signals];
    return fields.every((f) => !f || bytes(f) <= m.length);
  });

function bytes(f: { start: number; length: number; byteOrder: 'little' | 'big' }): number {
  const last = f.byteOrder === 'little' ? f.start + f.length - 1 : ((f.start ^ 7) + f.length - 1) ^ 7;
  return (last >> 3) + 1;
}
