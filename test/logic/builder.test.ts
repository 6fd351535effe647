import fc from 'fast-check';
import { expect, test } from 'vitest';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { checkProgram } from '../../src/logic/check.ts';
import { CLOCK_MAX, INT_MAX } from '../../src/logic/error.ts';
import type { Program } from '../../src/logic/form.ts';
import { programs } from './programs.ts';

function builder(): ProgramBuilder {
  return new ProgramBuilder('trial', 'A trial.');
}

test('a value that could leave 32 bits is refused when the program is built', () => {
  const b = builder();
  const x = b.input('x', -INT_MAX, INT_MAX);
  expect(() => b.add(x, b.const(1))).toThrow(/add can reach .* outside 32 bits; clamp/);
  expect(() => b.mulk(x, 2)).toThrow(/outside 32 bits/);
  expect(b.interval(b.sub(b.const(0), x))).toEqual({ lo: -INT_MAX, hi: INT_MAX });
});

test('a magnitude is known not to be negative', () => {
  const b = builder();
  expect(b.interval(b.abs(b.input('x', -300, 20)))).toEqual({ lo: 0, hi: 300 });
});

test('equal nodes are shared and constants folded', () => {
  const b = builder();
  const x = b.input('x', 0, 10);
  expect(b.add(x, b.const(3))).toBe(b.add(x, b.const(3)));
  expect(b.mulk(b.add(b.const(2), b.const(3)), 4)).toBe(b.const(20));
  expect(b.add(x, b.const(0))).toBe(x);
  expect(b.and(b.bool(true), b.lt(x, b.const(5)))).toBe(b.lt(x, b.const(5)));
});

test('the name of a constant stays with its use', () => {
  const b = builder();
  const named = b.named('greatest', b.const(7), 'Nm');
  expect(named).not.toBe(b.const(7));
  expect(b.named('greatest', b.const(7), 'Nm')).toBe(named);
});

test('a clock reading serves clockSub and nothing else', () => {
  const b = builder();
  const now = b.inputClock('now');
  const before = b.stateClock('before', CLOCK_MAX);
  expect(() => b.add(now, b.const(1))).toThrow(/only clockSub\(\) may use it/);
  expect(() => b.eq(now, before)).toThrow(/only clockSub\(\) may use it/);
  expect(() => b.clockSub(now, b.const(0), 10)).toThrow(/clock inputs and clock states only/);
  expect(() => b.next(before, b.const(0))).toThrow(/a clock reading is kept in a clock state/);
  expect(() => b.next(b.state('n', 0, 9, 0), now)).toThrow(/a clock reading is kept in a clock state/);
});

test.each([
  ['an upper-case name', (b: ProgramBuilder) => b.input('Speed', 0, 1), /lower-case letters/],
  ['a word of C', (b: ProgramBuilder) => b.input('double', 0, 1), /is a word of the C language/],
  ['a name used twice', (b: ProgramBuilder) => [b.input('x', 0, 1), b.state('x', 0, 1, 0)], /is there twice/],
  ['a range upside down', (b: ProgramBuilder) => b.input('x', 5, 1), /two integers in order/],
  ['a range beyond 32 bits', (b: ProgramBuilder) => b.input('x', -(2 ** 31), 1), /two integers in order/],
  ['a start outside the range', (b: ProgramBuilder) => b.state('x', 0, 5, 6), /starts at 6, outside 0 … 5/],
  ['a negative dividend', (b: ProgramBuilder) => b.divk(b.input('x', -1, 5), 2), /needs an operand ≥ 0/],
  ['a fraction', (b: ProgramBuilder) => b.const(0.5), /not an integer/],
  ['a number as a truth value', (b: ProgramBuilder) => b.not(b.const(1)), /a truth value is needed/],
  [
    'a state without next',
    (b: ProgramBuilder) => {
      b.state('x', 0, 1, 0);
      b.finish();
    },
    /x has no next value/,
  ],
  [
    'a CRC of 12 bits',
    (b: ProgramBuilder) =>
      b.crc([b.const(1)], { width: 12 as 8, poly: 1, init: 0, xorout: 0, reflected: false }),
    /8 or 16 are possible/,
  ],
  [
    'a table of falling x',
    (b: ProgramBuilder) =>
      b.table(b.const(1), 't', [
        [0, 1],
        [0, 2],
      ]),
    /point 2: x = 0 must be greater than 0/,
  ],
  [
    'a table too steep',
    (b: ProgramBuilder) =>
      b.table(b.const(1), 't', [
        [0, 0],
        [9_000_000, INT_MAX],
      ]),
    /too long or too steep/,
  ],
])('%s is refused in one sentence', (_, build, sentence) => {
  expect(() => build(builder())).toThrow(sentence);
});

test('every built program passes the check of foreign programs', () => {
  fc.assert(
    fc.property(programs, (program) => {
      expect(checkProgram(program)).toEqual([]);
    }),
    { seed: 20261125, numRuns: 60 },
  );
});

test('the check of foreign programs finds a false interval, a false order, a false type and a false start', () => {
  const b = builder();
  const x = b.input('x', 0, 10);
  const sum = b.add(x, b.const(3));
  const s = b.state('s', 0, 20, 0);
  b.next(s, sum);
  b.output('y', b.lt(sum, s));
  const whole = b.finish();
  const altered = (change: (p: Program) => void) => {
    const copy = structuredClone(whole);
    change(copy);
    return checkProgram(copy).join('\n');
  };
  expect(altered((p) => void (p.nodes[sum]!.hi = 12))).toMatch(/its interval is 3 … 13, not 3 … 12/);
  expect(altered((p) => void p.nodes.reverse())).toMatch(/an operand does not stand before it/);
  expect(altered((p) => void (p.nodes[sum]!.type = 'bool'))).toMatch(/wrong type/);
  expect(altered((p) => void (p.states[0]!.init = 21))).toMatch(/it starts at 21, outside 0 … 20/);
  expect(altered((p) => void (p.outputs[0]!.node = 99))).toMatch(/node 99 does not exist/);
});
