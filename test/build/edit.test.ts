import fc from 'fast-check';
import { expect, test } from 'vitest';
import { parse, stringify } from 'yaml';
import { editYaml } from '../../src/build/edit.ts';
import { CHASSIS } from './folder.ts';

const SEED = Number(process.env['SEED'] ?? Date.now() % 1e9);

/** Lines of `after` without the lines of `before`, provided those are all there in order. */
function added(before: string, after: string): string[] {
  const rest = before.split('\n');
  const extra = after.split('\n').filter((line) => {
    if (line !== rest[0]) return true;
    rest.shift();
    return false;
  });
  expect(rest, 'lines that were lost or changed').toEqual([]);
  return extra;
}

test('a signal put at the end of a list changes no other line', () => {
  const signal = { name: 'rate', start: 32, length: 8, byte_order: 'little' };
  const after = editYaml(CHASSIS, [{ do: 'append', path: ['messages', 1, 'signals'], value: signal }]);
  expect(added(CHASSIS, after)).toEqual([
    '      - name: rate',
    '        start: 32',
    '        length: 8',
    '        byte_order: little',
  ]);
});

test('a new message has its identifier in hexadecimal and its byte lists on one line', () => {
  const message = { name: 'door', id: 0x0de, length: 8, check: { covers: [0, 1, 2], poly: 0x1d } };
  const after = editYaml(CHASSIS, [{ do: 'append', path: ['messages'], value: message }]);
  expect(added(CHASSIS, after)).toEqual([
    '  - name: door',
    '    id: 0x0DE',
    '    length: 8',
    '    check:',
    '      covers: [ 0, 1, 2 ]',
    '      poly: 0x1D',
  ]);
});

test('a changed value leaves the comment beside it and the spacing before it', () => {
  const text = 'a:   0x0DE     # why\nb: "x"\n';
  expect(editYaml(text, [{ do: 'set', path: ['a'], value: 12.5 }])).toBe('a:   12.5     # why\nb: "x"\n');
  expect(editYaml(text, [{ do: 'set', path: ['b'], value: 'yes: no' }])).toBe(
    'a:   0x0DE     # why\nb: "yes: no"\n',
  );
});

test('an empty list on one line becomes a list with lines of its own', () => {
  const text = 'messages:\n  - name: a # first\n    signals: []\n  - name: b\n';
  expect(editYaml(text, [{ do: 'append', path: ['messages', 0, 'signals'], value: { n: 1 } }])).toBe(
    'messages:\n  - name: a # first\n    signals:\n      - n: 1\n  - name: b\n',
  );
  expect(editYaml(text, [{ do: 'append', path: ['messages', 1, 'signals'], value: { n: 1 } }])).toBe(
    'messages:\n  - name: a # first\n    signals: []\n  - name: b\n    signals:\n      - n: 1\n',
  );
});

test('a text without a last line break, and one with carriage returns, keep their kind of line', () => {
  expect(editYaml('list:\n  - 1', [{ do: 'append', path: ['list'], value: 2 }])).toBe(
    'list:\n  - 1\n  - 2\n',
  );
  const dos = editYaml('list:\r\n  - 1 # one\r\nb: 1\r\n', [
    { do: 'append', path: ['list'], value: { x: 2, y: 3 } },
  ]);
  expect(dos).toBe('list:\r\n  - 1 # one\r\n  - x: 2\r\n    y: 3\r\nb: 1\r\n');
});

test('where a text cannot be edited in place, comments and the spelling of numbers still stay', () => {
  const text = '# head\nlist: [{id: 0x0DE, scale: 0.10}] # beside\nb: 1 # last\n';
  const after = editYaml(text, [{ do: 'append', path: ['list'], value: { id: 0x12, scale: 2 } }]);
  expect(after).toBe(
    '# head\nlist: [{id: 0x0DE, scale: 0.10}, {id: 0x012, scale: 2}] # beside\nb: 1 # last\n',
  );
});

test('a name that means something else between braces is written so that it stays a name', () => {
  const text = 'list:\n  - {name: angle, start: 0} # beside\n';
  const after = editYaml(text, [{ do: 'set', path: ['list', 0, 'name'], value: 'speed, front' }]);
  expect(parse(after)).toEqual({ list: [{ name: 'speed, front', start: 0 }] });
  expect(after).toContain('# beside');
});

const scalar = fc.oneof(
  fc.integer({ min: -1e6, max: 1e6 }),
  fc.boolean(),
  fc.constantFrom(
    'plain',
    'with: colon',
    '# hash',
    '- dash',
    'null',
    '12 km/h',
    ' lead',
    'tail ',
    '',
    "it's",
    '0x10',
  ),
  fc.double({ noNaN: true, noDefaultInfinity: true }),
);
const group = fc.dictionary(fc.stringMatching(/^[a-z]{1,6}$/), scalar, { minKeys: 1, maxKeys: 4 });
const tree = fc.record({
  form: fc.constant('x/1'),
  one: group,
  list: fc.array(fc.record({ name: scalar, inner: fc.array(group, { maxLength: 3 }) }), { maxLength: 4 }),
});

test('an edit means what was asked for and loses no comment, whatever the text looks like', () => {
  const comment = (line: string, i: number) =>
    i % 3 === 0 && /^[\w\s:-]*$/.test(line) && line.trim() !== '' ? `${line}   # c${i}` : line;
  fc.assert(
    fc.property(tree, scalar, group, fc.nat(), fc.boolean(), (data, value, entry, pick, flow) => {
      const plain = stringify(data, { lineWidth: 0, collectionStyle: flow ? 'flow' : 'any' });
      const commented = plain.split('\n').map(comment).join('\n');
      const text = JSON.stringify(parse(commented)) === JSON.stringify(parse(plain)) ? commented : plain;
      const wanted = structuredClone(parse(text));
      const i = data.list.length === 0 ? -1 : pick % data.list.length;
      const edited = editYaml(text, [
        { do: 'set', path: ['one', 'zz'], value },
        { do: 'append', path: i < 0 ? ['list'] : ['list', i, 'inner'], value: entry },
      ]);
      wanted.one.zz = value;
      if (i < 0) wanted.list.push(entry);
      else wanted.list[i].inner.push(entry);
      // JSON has one zero, as YAML's plain data does.
      expect(JSON.stringify(parse(edited))).toBe(JSON.stringify(wanted));
      for (const c of text.match(/# c\d+$/gm) ?? []) expect(edited).toContain(c);
    }),
    { seed: SEED, numRuns: 300 },
  );
});
