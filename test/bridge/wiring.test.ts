import { expect, test } from 'vitest';
import type { Gateway, Source } from '../../src/bridge/gateway.ts';
import { checkWiring } from '../../src/bridge/wiring.ts';
import { ProgramBuilder } from '../../src/logic/builder.ts';

function gateway(source: Source, hi = 255): Gateway {
  const first = new ProgramBuilder('first', '');
  first.output('wide', first.input('a', 0, 1000), '');
  const second = new ProgramBuilder('second', '');
  const y = second.input('y', 0, hi);
  second.output('byte', second.min(y, second.const(255)), '');
  second.output('send', second.bool(true), '');
  return {
    name: 'g',
    stepMs: 10,
    buses: [],
    pins: [],
    rx: [{ name: 'm', bus: 0, id: 1, extended: false, length: 2 }],
    stages: [
      { role: 'read', program: first.finish(), sources: [{ from: 'rxByte', message: 0, byte: 0 }] },
      { role: 'write', program: second.finish(), sources: [source] },
    ],
    tx: [
      {
        name: 't',
        bus: 0,
        id: 2,
        extended: false,
        length: 1,
        stage: 1,
        send: 'send',
        bytes: ['byte'],
        counter: null,
        check: null,
      },
    ],
    actuators: [],
    names: [],
  };
}

const wide: Source = { from: 'stage', stage: 0, output: 'wide' };

test('a source within the interval of the input that it feeds is sound', () => {
  expect(() => checkWiring(gateway(wide, 1000))).not.toThrow();
});

test.each<[string, Gateway, string]>([
  [
    'reaches further than the input',
    gateway(wide),
    'input y of stage second holds 0 … 255, its source reaches 0 … 1000',
  ],
  [
    'is a truth value for a number',
    gateway({ from: 'rxFresh', message: 0 }),
    'is a number, its source a truth value',
  ],
  [
    'runs later',
    gateway({ from: 'stage', stage: 1, output: 'byte' }),
    'reads stage 1, which does not run before it',
  ],
  [
    'has no such output',
    gateway({ ...wide, output: 'narrow' }),
    'stage first has no output narrow; it has wide',
  ],
  [
    'has no such byte',
    gateway({ from: 'rxByte', message: 0, byte: 2 }),
    'reads byte 2 of received message m, which is not there',
  ],
  [
    'has no such message',
    gateway({ from: 'rxFresh', message: 3 }),
    'reads received message 3, which is not there',
  ],
  ['has no such pin', gateway({ from: 'pin', pin: 0 }), 'reads pin 0, which is not there'],
  ['is a clock for a small number', gateway({ from: 'clock' }), 'its source reaches 0 … 4294967295'],
])('a source that %s is refused', (_, wrong, text) => {
  expect(() => checkWiring(wrong)).toThrow(text);
});

test('a missing source, a byte that is none, and a wrong "send now" are refused', () => {
  const missing = gateway(wide, 1000);
  missing.stages[1]!.sources = [];
  expect(() => checkWiring(missing)).toThrow('stage second has 0 sources; its program has 1 inputs');
  const byte = gateway(wide, 1000);
  byte.tx[0]!.stage = 0;
  byte.tx[0]!.bytes = ['wide'];
  expect(() => checkWiring(byte)).toThrow('first.wide is 0 … 1000; a payload byte is 0 … 255');
  const send = gateway(wide, 1000);
  send.tx[0]!.send = 'byte';
  expect(() => checkWiring(send)).toThrow('second.byte says when to send and must be a truth value');
});
