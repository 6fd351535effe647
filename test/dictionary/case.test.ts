import fc from 'fast-check';
import { expect, test } from 'vitest';
import { camelKeys, snakeKeys } from '../../src/dictionary/case.ts';

test('keys of files become keys of code at every depth, and raw values used as keys stay', () => {
  expect(
    camelKeys({ byte_order: 'big', signals: [{ selector_value: 1, values: { '-1': 'no_key', 2: 'b' } }] }),
  ).toEqual({ byteOrder: 'big', signals: [{ selectorValue: 1, values: { '-1': 'no_key', 2: 'b' } }] });
});

test('snake_case keys survive the way into code and back', () => {
  const word = fc.stringMatching(/^[a-z]{1,5}$/);
  const key = fc.array(word, { minLength: 1, maxLength: 3 }).map((words) => words.join('_'));
  fc.assert(
    fc.property(fc.dictionary(key, fc.dictionary(key, fc.integer())), (data) => {
      expect(snakeKeys(camelKeys(data))).toEqual(data);
    }),
  );
});
