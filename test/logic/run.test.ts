import fc from 'fast-check';
import { expect, test } from 'vitest';
import { CLOCK_MAX } from '../../src/logic/error.ts';
import { initialState, interpret } from '../../src/logic/interpret.ts';
import { compile } from '../../src/logic/run.ts';
import { program, series } from './drive.ts';
import { drawInputs, programs, random } from './programs.ts';

const SEED = 20261125;

test('the compiled program and the interpreter agree bit for bit over programs of every kind of node', () => {
  console.log(`seed ${SEED}`);
  fc.assert(
    fc.property(programs, fc.nat(), (program, seed) => {
      const below = random(seed);
      const compiled = compile(program);
      const state = compiled.initial();
      const outputs = new Float64Array(program.outputs.length);
      let plain = initialState(program);
      for (let step = 0; step < 30; step++) {
        const inputs = drawInputs(program, below, state);
        const { values, next, outputs: expected } = interpret(program, plain, inputs);
        compiled.step(state, inputs, outputs);
        expect(outputs).toEqual(expected);
        expect(state).toEqual(next);
        expect(program.nodes.findIndex((n, id) => !(values[id]! >= n.lo && values[id]! <= n.hi))).toBe(-1);
        plain = next;
      }
    }),
    { seed: SEED, numRuns: 150 },
  );
});

test('the random programs hold every kind of node', () => {
  const kinds = new Set(
    fc.sample(programs, { seed: SEED, numRuns: 150 }).flatMap((p) => p.nodes.map((n) => n.kind)),
  );
  expect([...kinds].sort()).toEqual(
    'add and clockSub const crc divk eq input le lt max min mulk not or select state sub table wrap xor'.split(
      ' ',
    ),
  );
});

test('a CRC node gives the published check values', () => {
  // Check values for "123456789" as catalogues of CRC parameters give them, from memory.
  const cases = [
    { width: 8, poly: 0x1d, init: 0xff, xorout: 0xff, reflected: false, check: 0x4b },
    { width: 8, poly: 0x07, init: 0xff, xorout: 0, reflected: true, check: 0xd0 },
    { width: 16, poly: 0x1021, init: 0xffff, xorout: 0, reflected: false, check: 0x29b1 },
    { width: 16, poly: 0x1021, init: 0x89ec, xorout: 0, reflected: true, check: 0x26b1 },
    { width: 16, poly: 0x8005, init: 0, xorout: 0, reflected: true, check: 0xbb3d },
  ] as const;
  const p = program((b) => {
    const bytes = Array.from({ length: 9 }, (_, i) => b.input(`byte_${i}`, 0, 255));
    return Object.fromEntries(
      cases.map(({ check: _, ...parameters }, i) => [`crc_${i}`, b.crc(bytes, parameters)]),
    );
  });
  const text = [...'123456789'].map((c) => c.charCodeAt(0));
  const outputs = new Float64Array(cases.length);
  compile(p).step(new Float64Array(0), Float64Array.from(text), outputs);
  expect([...outputs]).toEqual(cases.map((c) => c.check));
  expect([...interpret(p, [], text).outputs]).toEqual(cases.map((c) => c.check));
});

test('the clock goes on across its wrap, and is kept unsigned', () => {
  const p = program((b) => {
    const now = b.inputClock('now');
    const before = b.stateClock('before', CLOCK_MAX - 4);
    b.next(before, now);
    return { elapsed: b.clockSub(now, before, 1000), now };
  });
  const now = [CLOCK_MAX, 0, 9, CLOCK_MAX - 100, CLOCK_MAX - 100, 5];
  expect(series(p, 'elapsed', { now })).toEqual([4, 1, 9, 1000, 0, 106]);
  const { step, initial } = compile(p);
  const [state, outputs] = [initial(), new Float64Array(2)];
  const run = now.map((t) => {
    step(state, Float64Array.of(t), outputs);
    return [...outputs, ...state];
  });
  expect(run).toEqual(now.map((t, i) => [[4, 1, 9, 1000, 0, 106][i], t, t]));
});
