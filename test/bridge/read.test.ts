import fc from 'fast-check';
import { expect, test } from 'vitest';
import { AGE_MAX, readProgram, toleratedFrames } from '../../src/bridge/read.ts';
import { counterAfter, counterValues } from '../../src/bridge/supported.ts';
import { readBits, readRaw, writeBits } from '../../src/can/bits.ts';
import { checkValue } from '../../src/can/check.ts';
import type { Message, Signal } from '../../src/dictionary/model.ts';
import { compile } from '../../src/logic/run.ts';
import { arbitraryMessage } from './arbitrary.ts';
import { frameOf, messageOf } from './fixture.ts';

/** Runs a read program over frames; null is a step without one. */
function reader(message: Message, lostFrames: number, form: 'raw' | 'count' = 'raw', gain = 1) {
  const wishes = message.signals.map((signal, i) => ({
    signal,
    output: `signal_${i}`,
    form:
      form === 'raw'
        ? ({ kind: 'raw' } as const)
        : ({
            kind: 'count',
            perCount: 0.01,
            gain,
            bias: 0,
            lo: -2000,
            hi: 30_000,
            sign: 'kept',
            unit: '',
          } as const),
  }));
  const read = readProgram('reading', message, wishes, { lostFrames });
  const compiled = compile(read.program);
  const state = compiled.initial();
  const inputs = new Float64Array(read.program.inputs.length);
  const outputs = new Float64Array(read.program.outputs.length);
  return {
    read,
    step(payload: Uint8Array | null): Record<string, number> {
      inputs[0] = payload ? 1 : 0;
      if (payload)
        read.bytes.forEach((byte, i) => {
          inputs[i + 1] = payload[byte] as number;
        });
      compiled.step(state, inputs, outputs);
      return Object.fromEntries(read.program.outputs.map((o, i) => [o.name, outputs[i] as number]));
    },
  };
}

/** What reading means, written down a second time without logic programs. */
class Reference {
  seen = false;
  last = 0;
  age = AGE_MAX;
  values: number[];
  readonly message: Message;
  readonly lostFrames: number;

  constructor(message: Message, lostFrames: number) {
    this.message = message;
    this.lostFrames = lostFrames;
    this.values = message.signals.map(() => 0);
  }

  step(payload: Uint8Array | null): { valid: number; age: number; values: number[] } {
    const valid = payload !== null && this.#believed(payload);
    this.age = valid ? 0 : Math.min(this.age + 1, AGE_MAX);
    if (valid && payload) this.values = this.message.signals.map((s) => readRaw(payload, 0, s));
    return { valid: valid ? 1 : 0, age: this.age, values: this.values };
  }

  #believed(payload: Uint8Array): boolean {
    const { counter, check, id, length } = this.message;
    const now = counter ? readBits(payload, 0, counter) : undefined;
    if (check && readBits(payload, 0, check) !== checkValue(check, id, payload, 0, length, now)) return false;
    if (!counter || now === undefined) return true;
    if (counter.skip.includes(now)) return false;
    const first = !this.seen;
    const before = this.last;
    this.seen = true;
    this.last = now;
    if (first) return true;
    const most = Math.min(this.lostFrames + 1, counterValues(counter).length - 1);
    for (let k = 0, value: number | undefined = before; k < most && value !== undefined; k++) {
      value = counterAfter(counter, value);
      if (value === now) return true;
    }
    return false;
  }
}

test('a frame is valid exactly when its check field and counter are right, for every kind of either', () => {
  fc.assert(
    fc.property(
      arbitraryMessage.filter((m) => !m.counter || counterValues(m.counter).length >= 3),
      fc.integer({ min: 0, max: 3 }),
      fc.array(fc.record({ what: fc.nat(9), bits: fc.nat(0xffff), jump: fc.nat(4), byte: fc.nat(7) }), {
        minLength: 20,
        maxLength: 60,
      }),
      (message, lostFrames, events) => {
        const run = reader(message, lostFrames);
        const reference = new Reference(message, lostFrames);
        let counter = 0;
        for (const { what, bits, jump, byte } of events) {
          const next = message.counter ? (counterAfter(message.counter, counter) ?? 0) : 0;
          if (what !== 1) counter = next;
          if (what === 2)
            for (let k = 0; k < jump; k++)
              counter = message.counter ? (counterAfter(message.counter, counter) ?? 0) : 0;
          const frame = frameOf(message, rawOf(message.signals, bits), counter);
          if (what === 3) frame[byte % message.length]! ^= 1 << (bits & 7);
          if (what === 4 && message.counter) writeBits(frame, 0, message.counter, bits);
          const given = what === 0 ? null : frame;
          const got = run.step(given);
          const want = reference.step(given);
          expect([got.valid, got.age, got.signal_0, got.signal_1]).toEqual([
            want.valid,
            want.age,
            ...want.values,
          ]);
        }
      },
    ),
    { seed: 20260, numRuns: 150 },
  );
});

function rawOf(signals: Signal[], bits: number): Record<string, number> {
  return Object.fromEntries(
    signals.map((s, i) => {
      const size = s.signed === false ? 2 ** s.length : 2 ** (s.length - 1);
      return [s.name, (bits >> (4 * i)) % size];
    }),
  );
}

test('before the first valid frame the age is 1023, and it stays there', () => {
  const run = reader(messageOf('van', 'Speed'), 1);
  for (let i = 0; i < 3; i++) expect(run.step(null).age).toBe(1023);
});

test('the first frame is taken as the start whatever its counter, the same frame again is not valid', () => {
  const message = messageOf('van', 'Speed');
  const run = reader(message, 1);
  const frame = frameOf(message, { Speed: 1000 }, 9);
  expect(run.step(frame).valid).toBe(1);
  expect(run.step(frame)).toMatchObject({ valid: 0, age: 1 });
});

test('one lost frame is tolerated where one is allowed, two are not, and the frame after a jump counts again', () => {
  const message = messageOf('van', 'Speed');
  const run = reader(message, 1);
  const valid = [0, 2, 5, 6].map((counter) => run.step(frameOf(message, {}, counter)).valid);
  expect(valid).toEqual([1, 1, 0, 1]);
});

test('a counter value that is never sent is never valid, even with a right check field', () => {
  const message = messageOf('van', 'Speed');
  const run = reader(message, 1);
  expect(run.step(frameOf(message, {}, 15)).valid).toBe(0);
  expect([14, 0].map((counter) => run.step(frameOf(message, {}, counter)).valid)).toEqual([1, 1]);
});

test('a value beyond its limits is not believed: the last one stays and ages, while the message stays valid', () => {
  const message = messageOf('van', 'Speed');
  const run = reader(message, 1);
  run.step(frameOf(message, { Speed: 4321 }, 0));
  const after = run.step(frameOf(message, { Speed: 25_001 }, 1));
  expect(after).toMatchObject({ valid: 1, age: 0, age_signal_0: 1, signal_0: 4321 });
  expect(run.step(frameOf(message, { Speed: -5001 }, 2))).toMatchObject({ valid: 1, signal_0: 4321 });
  expect(run.step(frameOf(message, { Speed: -5000 }, 3))).toMatchObject({ age_signal_0: 0, signal_0: -5000 });
  expect(run.read.ages.get('Speed')).toBe('age_signal_0');
});

test('a signal comes in the wanted unit, rounded to nearest and kept within the wanted interval', () => {
  const message = messageOf('van', 'Speed');
  const run = reader(message, 1, 'count', 1 / 3.6);
  const counts = [0, 36, 1799, 25_000, -5000, -7200].map(
    (raw, i) => run.step(frameOf(message, { Speed: raw }, i)).signal_0,
  );
  // 0.36 km/h is 0.1 m/s; 17.99 km/h is 4.997 m/s; 250 km/h is 69.444 m/s; −50 km/h is −13.889 m/s; −72 is not believed.
  expect(counts).toEqual([0, 10, 500, 6944, -1389, -1389]);
});

test('only the magnitude of a signal comes where its sign is dropped', () => {
  const message = messageOf('van', 'Speed');
  const form = {
    kind: 'count',
    perCount: 0.01,
    gain: 1,
    bias: 0,
    lo: 0,
    hi: 10_000,
    sign: 'dropped',
    unit: '',
  } as const;
  const { program, bytes } = readProgram(
    'reading',
    message,
    [{ signal: message.signals[0]!, form, output: 'speed' }],
    { lostFrames: 1 },
  );
  const compiled = compile(program);
  const outputs = new Float64Array(program.outputs.length);
  const frame = frameOf(message, { Speed: -4321 }, 0);
  compiled.step(compiled.initial(), Float64Array.from([1, ...bytes.map((i) => frame[i] as number)]), outputs);
  expect(outputs[program.outputs.findIndex((o) => o.name === 'speed')]).toBe(4321);
});

test('a signal that shares its bits with others is believed only under its selector value', () => {
  const message: Message = {
    ...messageOf('van', 'Display'),
    selector: { start: 0, length: 4, byteOrder: 'little' },
    signals: [{ ...messageOf('van', 'Display').signals[0]!, start: 8, selectorValue: 3 }],
  };
  const run = reader(message, 1);
  const steps = [Uint8Array.of(3, 77), Uint8Array.of(2, 99)].map((frame) => run.step(frame));
  expect(steps.map((s) => [s.valid, s.signal_0, s.age_signal_0])).toEqual([
    [1, 77, 0],
    [1, 77, 1],
  ]);
});

test('frames that overwrite each other within one step count as lost ones', () => {
  const message = messageOf('van', 'Speed');
  expect([5, 10, 20].map((periodMs) => toleratedFrames({ ...message, periodMs }, 1, 10))).toEqual([3, 2, 1]);
});
