import { describe, expect, test } from 'vitest';
import { camelKeys } from '../../src/dictionary/case.ts';
import type { Dictionary } from '../../src/dictionary/model.ts';
import { dictionaryProblems } from '../../src/dictionary/problems.ts';
import { dictionarySchema } from '../../src/dictionary/schema.ts';

/** A dictionary as it would be read from a file holding one sound message with these changes to it. */
function dictionary(...messages: object[]): Dictionary {
  const sound = {
    name: 'speed',
    id: 0x120,
    length: 8,
    selector: { start: 0, length: 2 },
    counter: { start: 4, length: 4, skip: [15] },
    check: { start: 56, length: 8, algorithm: 'crc', poly: 0x1d, covers: [0, 1, 2, 3, 4, 5, 6] },
    signals: [
      { name: 'v', start: 8, length: 16, byte_order: 'little', scale: 0.01, min: 0, max: 100 },
      { name: 'a', start: 24, length: 8, byte_order: 'little', selector_value: 0 },
      { name: 'b', start: 31, length: 8, byte_order: 'big', selector_value: 1 },
    ],
  };
  const file = { form: 'dictionary/1', bus: 'chassis', messages: messages.map((m) => ({ ...sound, ...m })) };
  return camelKeys(dictionarySchema.parse(file)) as Dictionary;
}

const said = (...messages: object[]) =>
  dictionaryProblems(dictionary(...messages)).map((p) => `${p.path.join('.')}: ${p.found} | ${p.expected}`);

describe('dictionary problems', () => {
  test('a sound message has none; signals under different selector values may share bits', () => {
    expect(said({})).toEqual([]);
  });

  test('two messages cannot share a name or an identifier, but 11 and 29 bits are different identifiers', () => {
    expect(said({}, {})).toEqual([
      'messages.1.name: "speed", as in message 1 | a name of its own',
      'messages.1.id: 120, as in message speed | an identifier that no other message of this bus has',
    ]);
    expect(said({}, { name: 'other', extended: true })).toEqual([]);
  });

  test('an identifier above 0x7FF needs 29 bits', () => {
    expect(said({ id: 0x800 })).toEqual(['messages.0.id: 0x800 | 0 to 0x7FF, or extended: true']);
    expect(said({ id: 0x800, extended: true })).toEqual([]);
  });

  test('overlapping fields are named with the bits they both claim', () => {
    const signals = [
      { name: 'x', start: 6, length: 4, byte_order: 'little' },
      { name: 'y', start: 8, length: 1, byte_order: 'little', selector_value: 1 },
      { name: 'z', start: 9, length: 1, byte_order: 'little', state: 'rejected' },
    ];
    expect(said({ signals })).toEqual([
      'messages.0.signals.0.start: x claims bits 6–7 of the counter | bits that no other field has, unless both have a selector_value and these differ',
      'messages.0.signals.1.start: y claims bit 8 of x | bits that no other field has, unless both have a selector_value and these differ',
    ]);
  });

  test('under the same selector value, signals may not share bits', () => {
    const signals = [1, 1].map((selector_value, k) => ({
      name: `x${k}`,
      start: 16 + k,
      length: 2,
      byte_order: 'little',
      selector_value,
    }));
    expect(said({ signals })).toEqual([
      'messages.0.signals.1.start: x1 claims bit 17 of x0 | bits that no other field has, unless both have a selector_value and these differ',
    ]);
  });

  test('a field must lie within the payload', () => {
    const signals = [{ name: 'x', start: 54, length: 12, byte_order: 'big' }];
    expect(said({ signals, check: undefined })).toEqual([]);
    expect(said({ signals, check: undefined, length: 7 })).toEqual([
      'messages.0.signals.0.start: x reaches byte 7 (bits 48–54, 59–63) | bits within 0 to 55, the 7 bytes of speed',
    ]);
    expect(
      said({
        signals: [],
        check: { start: 0, length: 8, algorithm: 'xor', covers: [1, 8] },
        counter: undefined,
        selector: undefined,
      }),
    ).toEqual(['messages.0.check.covers.1: byte 8 | 0 to 7, the bytes of speed']);
    expect(said({ length: 9 })[0]).toContain('messages.0.length: 9');
  });

  test('a signal needs a scale, a possible range and possible named values', () => {
    const signals = [
      {
        name: 'x',
        start: 8,
        length: 4,
        byte_order: 'little',
        signed: true,
        scale: 0,
        min: 3,
        max: 2,
        values: { 7: 'ok', 8: 'no', '-9': 'no' },
      },
      { name: 'x', start: 12, length: 1, byte_order: 'little', signed: 'magnitude' },
    ];
    expect(said({ signals }).sort()).toEqual(
      [
        'messages.0.signals.0.scale: 0 | a number other than 0',
        'messages.0.signals.0.min: min 3 above max 2 | 2 or less',
        'messages.0.signals.0.values.8: raw value 8 in 4 bits | -8 to 7',
        'messages.0.signals.0.values.-9: raw value -9 in 4 bits | -8 to 7',
        'messages.0.signals.1.name: "x", there twice in speed | a name of its own within the message',
        'messages.0.signals.1.length: 1 bit for sign and magnitude | 2 bits or more',
      ].sort(),
    );
  });

  test('a selector value needs a selector that can hold it', () => {
    const signals = [{ name: 'x', start: 8, length: 4, byte_order: 'little', selector_value: 4 }];
    expect(said({ signals })).toEqual([
      'messages.0.signals.0.selector_value: 4 | 0 to 3, what the selector can hold',
    ]);
    expect(said({ signals, selector: undefined })).toEqual([
      'messages.0.signals.0.selector_value: 4, but speed has no selector | a selector in the message',
    ]);
  });

  test('a counter must be able to count', () => {
    expect(said({ counter: { start: 4, length: 4, step: 16 } })[0]).toContain(
      'with which the counter stands still',
    );
    expect(said({ counter: { start: 4, length: 2, skip: [4] } })).toEqual([
      'messages.0.counter.skip.0: 4 | 0 to 3',
    ]);
    expect(said({ counter: { start: 4, length: 2, skip: [0, 1, 2, 3] } })).toEqual([
      'messages.0.counter.skip: no value left to step to | at least two values that are not skipped',
    ]);
  });

  test('the figures of a check must fit its width and its message', () => {
    const check = {
      start: 56,
      length: 8,
      algorithm: 'crc',
      width: 4,
      poly: 0x1d,
      init: 0xff,
      covers: [0],
      id_bytes: [2],
    };
    expect(said({ check })).toEqual([
      'messages.0.check.length: 8 bits for a result of 4 | 4 or less, or a greater width',
      'messages.0.check.poly: 0x1D | 0 to 0xF (width 4)',
      'messages.0.check.init: 0xFF | 0 to 0xF (width 4)',
      'messages.0.check.id_bytes.0: byte 2 | 0 to 1 for this identifier',
    ]);
    expect(said({ check: { start: 56, length: 8, algorithm: 'crc', covers: [] } })).toEqual([
      'messages.0.check.covers: no byte | at least one byte of the payload',
      'messages.0.check.poly: 0 | the polynomial of the CRC',
    ]);
  });

  test('constants per counter value need a counter and one for each of its values', () => {
    const check = { start: 56, length: 8, algorithm: 'crc', poly: 0x2f, covers: [0] };
    expect(said({ check: { ...check, per_counter: Array(15).fill(1) } })).toEqual([]);
    expect(said({ check: { ...check, per_counter: Array(14).fill(1) } })).toEqual([
      'messages.0.check.per_counter: 14 constants | 15 to 16, one per counter value',
    ]);
    expect(said({ check: { ...check, per_counter: [...Array(15).fill(1), 256] } })).toEqual([
      'messages.0.check.per_counter.15: 0x100 | 0 to 0xFF (width 8)',
    ]);
    expect(said({ check: { ...check, per_counter: [1] }, counter: undefined })).toEqual([
      'messages.0.check.per_counter: constants, but speed has no counter | a counter in the message',
    ]);
  });
});
