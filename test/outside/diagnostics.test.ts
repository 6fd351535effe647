/** Services and negative answers: github pylessard/python-udsoncan, service files (a public UDS library). */
import { expect, test } from 'vitest';
import { diagnosticHead, REFUSALS, refusalName, SERVICES, serviceName } from '../../src/can/diagnostics.ts';

test('every service of the public library has a name here, and no other number above 0A has', () => {
  const published = '10 11 14 19 22 23 24 27 28 29 2A 2C 2E 2F 31 34 35 36 37 38 3D 3E 83 84 85 86 87'.split(
    ' ',
  ); // python-udsoncan
  const own = Object.keys(SERVICES)
    .map(Number)
    .filter((n) => n > 0x0a);
  expect(own.map((n) => n.toString(16).toUpperCase())).toEqual(published);
});

test.each([
  [0x10, 'session'],
  [0x11, 'reset'],
  [0x14, 'clear'],
  [0x19, 'read trouble codes'],
  [0x22, 'read by identifier'],
  [0x23, 'read memory'],
  [0x27, 'security'],
  [0x28, 'communication control'],
  [0x2e, 'write'],
  [0x31, 'routine'],
  [0x34, 'download'],
  [0x35, 'upload'],
  [0x36, 'transfer'],
  [0x37, 'exit'],
  [0x3e, 'tester present'],
  [0x85, 'trouble code setting'],
])('service %i is %s', (service, word) => {
  expect(serviceName(service)).toContain(word); // python-udsoncan
  const answer = Uint8Array.of(service + 0x40, 0, 0);
  expect(diagnosticHead(answer, 0, 3)).toEqual({ kind: 'answer', service }); // python-udsoncan: positive answer = service + 40
});

test.each([
  [0x11, 'service'],
  [0x12, 'subfunction'],
  [0x13, 'length'],
  [0x14, 'too long'],
  [0x21, 'busy'],
  [0x22, 'conditions'],
  [0x24, 'order'],
  [0x31, 'range'],
  [0x33, 'denied'],
  [0x34, 'authentication'],
  [0x35, 'key'],
  [0x36, 'attempts'],
  [0x37, 'delay'],
  [0x78, 'pending'],
  [0x7e, 'subfunction not in'],
  [0x7f, 'service not in'],
])('negative code %i says %s', (code, word) => {
  expect(refusalName(code)).toContain(word); // python-udsoncan
  const bytes = Uint8Array.of(0x7f, 0x22, code);
  expect(diagnosticHead(bytes, 0, 3)).toMatchObject({ kind: 'refusal', service: 0x22, code }); // python-udsoncan: 7F, service, code
});

test('transfer codes 70 to 73 and the conditions of a vehicle from 81 on have words', () => {
  for (const code of [0x70, 0x71, 0x72, 0x73, 0x81, 0x88, 0x93]) expect(REFUSALS[code]).toBeTruthy(); // python-udsoncan
});
