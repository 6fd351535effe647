import { expect, test } from 'vitest';
import { timeSpan } from '../../src/capture/span.ts';

test('a span runs from the earliest to the latest time, also where the clock went back', () => {
  expect(timeSpan(Float64Array.of(5, 2.5, 9, 3))).toEqual({ first: 2.5, last: 9, seconds: 6.5 });
});

test('nothing has no span', () => {
  expect(timeSpan(new Float64Array(0))).toEqual({ first: 0, last: 0, seconds: 0 });
});
