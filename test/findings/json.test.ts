import { expect, test } from 'vitest';
import { findAll } from '../../src/findings/find.ts';
import { toFindingsForm } from '../../src/findings/json.ts';
import { captureOf, checkField, driving } from './traffic.ts';

const CAPTURE = captureOf([
  {
    id: 0x0de,
    length: 8,
    frames: 400,
    fill: driving(2),
    counter: { start: 48, length: 4, byteOrder: 'little', value: (i) => i % 15 },
    check: checkField({ init: 0xff, xorout: 0xff }),
  },
  { id: 0x18fe_f100, extended: true, bus: 1, length: 4, frames: 200, fill: driving(6), seed: 2 },
]);

test('findings/1 names identifiers in hex, polynomials in hex with 0x and bytes in hex', async () => {
  const form = toFindingsForm(await findAll(CAPTURE));
  expect(form.form).toBe('findings/1');
  expect(form.messages.map(({ bus, id, ext }) => ({ bus, id, ext }))).toEqual([
    { bus: 0, id: '0DE', ext: 0 },
    { bus: 1, id: '18FEF100', ext: 1 },
  ]);
  const [message] = form.messages;
  expect(message?.periodMs).toBeCloseTo(10, 1);
  expect(message?.counter).toMatchObject({ start: 48, length: 4, byteOrder: 'little', step: 1, skip: [15] });
  expect(message?.check).toMatchObject({
    start: 56,
    length: 8,
    byteOrder: 'little',
    algorithm: 'crc',
    width: 8,
    poly: '0x1D',
    init: '0xFF',
    xorout: '0xFF',
    reflected: false,
    covers: [0, 1, 2, 3, 4, 5, 6],
    prefix: '',
    suffix: '',
    idBytes: [],
    perCounter: null,
  });
  expect(message?.selector).toBeNull();
});

test('the signals of findings/1 hold all fields, those of counter and check too, each once', async () => {
  const [message] = toFindingsForm(await findAll(CAPTURE)).messages;
  const kinds = message?.signals.filter((s) => s.kind === 'counter' || s.kind === 'check');
  expect(kinds).toMatchObject([
    { kind: 'counter', start: 48, length: 4 },
    { kind: 'check', start: 56, length: 8 },
  ]);
  expect(message?.signals.reduce((bits, s) => bits + s.length, 0)).toBe(64);
});

test('findings/1 is plain JSON that reads back as it was', async () => {
  const form = toFindingsForm(await findAll(CAPTURE));
  expect(JSON.parse(JSON.stringify(form))).toEqual(form);
  expect(Object.keys(form)).toEqual(['form', 'frames', 'seconds', 'messages', 'senders', 'senderEvidence']);
});
