import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readProgram } from '../../src/bridge/read.ts';
import { counterAfter, counterValues, writeProblems } from '../../src/bridge/supported.ts';
import { writeProgram } from '../../src/bridge/write.ts';
import { rawRange, readBits, readRaw } from '../../src/can/bits.ts';
import { checkValue } from '../../src/can/check.ts';
import type { Message } from '../../src/dictionary/model.ts';
import { compile } from '../../src/logic/run.ts';
import { arbitraryMessage } from './arbitrary.ts';
import { BUSES, messageOf } from './fixture.ts';

function writer(message: Message) {
  const signals = message.signals.map((signal, i) => ({ signal, input: `signal_${i}` }));
  const program = writeProgram('writing', message, signals);
  const compiled = compile(program);
  const state = compiled.initial();
  const outputs = new Float64Array(program.outputs.length);
  return (trigger: number, raw: number[]): Uint8Array => {
    compiled.step(state, Float64Array.from([trigger, ...raw]), outputs);
    expect(outputs[0]).toBe(trigger);
    return Uint8Array.from(outputs.subarray(1));
  };
}

const writable = arbitraryMessage.filter((m) => writeProblems(m, BUSES[0], '').length === 0);

test('everything sent carries its signals, the next counter value and a right check field', () => {
  fc.assert(
    fc.property(writable, fc.array(fc.nat(0xffff), { minLength: 5, maxLength: 40 }), (message, seeds) => {
      const write = writer(message);
      let expected = message.counter ? counterValues(message.counter)[0] : undefined;
      for (const seed of seeds) {
        const raw = message.signals.map((s, i) => {
          const { lo, hi } = rawRange(s.length, s.signed);
          return lo + ((seed >> (3 * i)) % (hi - lo + 1));
        });
        const frame = write(1, raw);
        expect(message.signals.map((s) => readRaw(frame, 0, s))).toEqual(raw);
        if (message.counter) expect(readBits(frame, 0, message.counter)).toBe(expected);
        if (message.check)
          expect(readBits(frame, 0, message.check)).toBe(
            checkValue(message.check, message.id, frame, 0, message.length, expected),
          );
        if (message.counter && expected !== undefined) expected = counterAfter(message.counter, expected);
      }
    }),
    { seed: 20261, numRuns: 150 },
  );
});

test('what the gateway writes, the gateway believes', () => {
  fc.assert(
    fc.property(writable, fc.array(fc.nat(1), { minLength: 5, maxLength: 40 }), (message, triggers) => {
      const write = writer(message);
      const { program, bytes } = readProgram('reading', message, [], { lostFrames: 0 });
      const compiled = compile(program);
      const state = compiled.initial();
      const outputs = new Float64Array(program.outputs.length);
      for (const trigger of triggers) {
        const frame = write(
          trigger,
          message.signals.map(() => 0),
        );
        const inputs = Float64Array.from([trigger, ...bytes.map((i) => frame[i] as number)]);
        compiled.step(state, inputs, outputs);
        expect(outputs[0]).toBe(trigger);
      }
    }),
    { seed: 20262, numRuns: 100 },
  );
});

test('the counter stands still while nothing is sent', () => {
  const message = messageOf('plover', 'Van speed');
  const write = writer(message);
  const counters = [1, 0, 0, 1, 1].map((trigger) =>
    readBits(write(trigger, [0, 0]), 0, message.counter as NonNullable<Message['counter']>),
  );
  expect(counters).toEqual([0, 3, 3, 3, 6]);
});
