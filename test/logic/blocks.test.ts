import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  counter,
  counterAfter,
  debounce,
  hold,
  holdBool,
  latch,
  risingEdge,
  slew,
  timer,
} from '../../src/logic/blocks.ts';
import { rangeObligations } from '../../src/logic/emit-smt.ts';
import { program, series } from './drive.ts';

const SEED = 20261125;

test('a slewed value moves towards its target by at most its step, and reaches it', () => {
  const p = program((b) => ({
    value: slew(b, 'held', b.input('target', -100, 100), {
      lo: -20,
      hi: 50,
      init: 0,
      step: { up: b.const(4), down: b.const(10) },
    }),
  }));
  expect(series(p, 'value', { target: [10, 10, 10, 10, -7, -7, -100, -100] })).toEqual([
    4, 8, 10, 10, 0, -7, -17, -20,
  ]);
  fc.assert(
    fc.property(fc.array(fc.integer({ min: -100, max: 100 }), { minLength: 2, maxLength: 40 }), (target) => {
      let before = 0;
      series(p, 'value', { target }).forEach((value, i) => {
        const wanted = Math.min(50, Math.max(-20, target[i]!));
        expect(value).toBe(wanted > before ? Math.min(wanted, before + 4) : Math.max(wanted, before - 10));
        before = value;
      });
    }),
    { seed: SEED },
  );
});

test('a slew by a step that can be negative is refused', () => {
  expect(() =>
    program((b) => ({
      value: slew(b, 'held', b.const(1), { lo: 0, hi: 9, init: 0, step: b.input('step', -1, 3) }),
    })),
  ).toThrow(/steps ≥ 0/);
});

test('a timer counts unbroken steps, saturates, and starts again from 0', () => {
  const p = program((b) => timer(b, 'steps', b.inputBool('on'), 3) as unknown as Record<string, number>);
  const on = [1, 1, 1, 1, 1, 0, 1, 1];
  expect(series(p, 'count', { on })).toEqual([1, 2, 3, 3, 3, 0, 1, 2]);
  expect(series(p, 'elapsed', { on })).toEqual([0, 0, 1, 1, 1, 0, 0, 0]);
});

test('a debounced signal changes only after so many steps of the new value in a row', () => {
  const p = program((b) => ({ shown: debounce(b, 'shown_before', b.inputBool('raw'), 3) }));
  const raw = [1, 1, 0, 1, 1, 1, 1, 0, 0, 1, 0, 0, 0, 0];
  expect(series(p, 'shown', { raw })).toEqual([0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 0, 0]);
});

test('a latch keeps, and the winner of a tie is as asked', () => {
  const make = (wins: 'set' | 'reset') =>
    program((b) => ({ on: latch(b, 'held', b.inputBool('set'), b.inputBool('reset'), { wins }) }));
  const inputs = { set: [0, 1, 0, 0, 1, 0], reset: [0, 0, 0, 1, 1, 0] };
  expect(series(make('set'), 'on', inputs)).toEqual([0, 1, 1, 0, 1, 1]);
  expect(series(make('reset'), 'on', inputs)).toEqual([0, 1, 1, 0, 0, 0]);
});

test('a signal that is high from the beginning is no rising edge, unless asked', () => {
  const make = (init: 'on' | 'off') =>
    program((b) => ({ edge: risingEdge(b, 'before', b.inputBool('signal'), { init }) }));
  const signal = [1, 1, 0, 1, 0, 0, 1];
  expect(series(make('on'), 'edge', { signal })).toEqual([0, 0, 0, 1, 0, 0, 1]);
  expect(series(make('off'), 'edge', { signal })).toEqual([1, 0, 0, 1, 0, 0, 1]);
});

test('a held value is the one last taken', () => {
  const p = program((b) => ({
    number: hold(b, 'number_before', b.input('x', 0, 9), b.inputBool('take'), { lo: 0, hi: 9, init: 7 }),
    flag: holdBool(b, 'flag_before', b.inputBool('f'), b.inputBool('take_flag')),
  }));
  expect(series(p, 'number', { x: [1, 2, 3, 4], take: [0, 1, 0, 1] })).toEqual([7, 2, 2, 4]);
  expect(series(p, 'flag', { f: [1, 1, 0, 0], take_flag: [0, 1, 0, 1] })).toEqual([0, 1, 1, 0]);
});

test('blocks keep their states in range by their intervals alone', () => {
  const p = program((b) => ({
    a: slew(b, 'slewed', b.input('x', -999, 999), { lo: -5, hi: 5, init: 0, step: b.const(1) }),
    b: timer(b, 'timed', b.inputBool('on'), 10).count,
    c: counter(b, 'counted', b.bool(true), { bits: 4, skip: [15] }),
    d: debounce(b, 'debounced', b.inputBool('raw'), 4),
  }));
  expect(rangeObligations(p).filter((o) => !o.shown)).toEqual([]);
});

test('a counter runs by its step past the values it skips', () => {
  const p = program((b) => ({
    value: counter(b, 'count', b.inputBool('go'), { bits: 3, step: 1, skip: [6, 7, 2] }),
  }));
  expect(series(p, 'value', { go: [1, 1, 0, 1, 1, 1, 1, 1] })).toEqual([0, 1, 3, 3, 4, 5, 0, 1]);
  const back = program((b) => ({ value: counter(b, 'count', b.bool(true), { bits: 4, step: -5, init: 3 }) }));
  expect(series(back, 'value', { none: Array(5).fill(0) })).toEqual([3, 14, 9, 4, 15]);
});

test('the value after a counter value is the next by its step that is not skipped', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 5 }),
      fc.integer({ min: -40, max: 40 }),
      fc.array(fc.nat(31), { maxLength: 6 }),
      (bits, step, skipAny) => {
        const size = 2 ** bits;
        const skip = skipAny.map((v) => v % size);
        const expected = (value: number) => {
          let next = value;
          for (let i = 0; i <= size; i++) {
            next = (((next + step) % size) + size) % size;
            if (!skip.includes(next)) return next;
          }
          return null;
        };
        const values = [...Array(size).keys()].filter((v) => !skip.includes(v));
        const build = () =>
          program((b) => ({ next: counterAfter(b, b.input('value', 0, size - 1), { bits, step, skip }) }));
        if (values.some((v) => expected(v) === null)) {
          expect(build).toThrow(/every value it reaches is skipped/);
          return;
        }
        expect(series(build(), 'next', { value: values })).toEqual(values.map(expected));
      },
    ),
    { seed: SEED, numRuns: 200 },
  );
});
