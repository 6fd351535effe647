/** Bus `controller`: what the driving controller asks, sometimes badly, and what the gateway tells it. */
import type { Scenario } from '../scenario.ts';
import { during } from '../scenario.ts';
import {
  big,
  check,
  choice,
  counter,
  flag,
  little,
  type Mischief,
  number,
  type Traffic,
  traffic,
} from './define.ts';

const H2F = { poly: 0x2f, init: 0xff, xorout: 0xff };

export const CONTROLLER: Traffic[] = [
  traffic(
    'controller',
    'controller',
    'steering command',
    {
      id: 0x200,
      length: 8,
      periodMs: 20,
      counter: counter(48, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'crc', { ...H2F, idBytes: [0, 1] }),
      mischief,
    },
    [
      number(
        'command angle',
        big(7, 16),
        { signed: true, scale: 0.1, unit: '°', min: -700, max: 700 },
        (w) => {
          const quick = during(w.scenario, 'command too quick', w.t);
          // 4 Hz from one side to the other.
          const swing = quick
            ? (quick.level ?? 0) * Math.sign(Math.sin(8 * Math.PI * (w.t - quick.startS) + 1e-6))
            : 0;
          return w.wheelDeg + w.level('command too large') + swing + w.noise(0.15);
        },
      ),
      flag('request', 16, (w) => (w.t > 1 && !w.flag('request withdrawn') ? 1 : 0)),
      choice('controller state', little(17, 3), ['start', 'watching', 'steering', 'fault'], (w) =>
        w.t <= 1 ? 0 : w.flag('request withdrawn') ? 1 : 2,
      ),
    ],
  ),
  traffic(
    'controller',
    'controller',
    'pace command',
    {
      id: 0x208,
      length: 6,
      periodMs: 20,
      counter: counter(32, 4),
      check: check(5, [0, 1, 2, 3, 4], 'crc', { ...H2F, idBytes: [0, 1] }),
    },
    [
      // It slows and speeds up gently in turn, and now and then asks for more brake than the guard gives.
      number('brake pressure wanted', little(0, 12), { scale: 0.05, unit: 'bar', max: 120 }, (w) =>
        Math.max(0, (w.t % 20 > 17 ? 60 : 12) * Math.sin(w.t / 2)),
      ),
      number('accelerator wanted', little(16, 10), { scale: 0.1, unit: '%', max: 100 }, (w) =>
        Math.max(0, -18 * Math.sin(w.t / 2)),
      ),
    ],
  ),
  traffic(
    'controller',
    'controller',
    'controller status',
    { id: 0x210, length: 4, periodMs: 100, counter: counter(0, 8) },
    [
      number(
        'load',
        little(8, 8),
        { scale: 0.5, unit: '%' },
        (w) => 46 + 6 * Math.sin(w.t / 2.3) + w.noise(2),
      ),
      number(
        'board temperature',
        little(16, 8),
        { offset: -40, unit: '°C' },
        (w) => 48 + w.t / 20 + w.noise(0.2),
      ),
    ],
  ),
  traffic(
    'controller',
    'gateway',
    'pedal voltages',
    {
      id: 0x310,
      length: 8,
      periodMs: 10,
      counter: counter(48, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'crc', { ...H2F, idBytes: [0, 1] }),
    },
    [
      // As with an untouched pedal; the splice was never closed in a recording.
      number('track 1', little(0, 13), { scale: 0.001, unit: 'V', max: 5.5 }, () => 0.75),
      number('track 2', little(16, 13), { scale: 0.001, unit: 'V', max: 5.5 }, () => 0.375),
      flag('splice closed', 32, () => 0),
    ],
  ),
  traffic(
    'controller',
    'gateway',
    'angle and speed',
    {
      id: 0x300,
      length: 8,
      periodMs: 20,
      counter: counter(48, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'crc', { ...H2F, idBytes: [0, 1] }),
    },
    [
      number('wheel angle', big(7, 16), { signed: true, scale: 0.1, unit: '°' }, (w) => w.wheelDeg),
      number('speed', little(16, 16), { scale: 0.01, unit: 'km/h' }, (w) => w.speedKmh),
    ],
  ),
];

function mischief(scenario: Scenario, t: number): Mischief | null {
  if (during(scenario, 'command missing', t)) return 'missing';
  if (during(scenario, 'command with a wrong check', t)) return 'wrong check';
  if (during(scenario, 'command counter frozen', t)) return 'frozen counter';
  return null;
}
