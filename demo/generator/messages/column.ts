/** Bus `column`: Plover, the steering unit, Dunlin, the angle sensor, and what the gateway sends to keep them awake. */
import { crcTable } from '../../../src/can/crc.ts';
import { big, check, choice, counter, flag, little, number, type Traffic, traffic } from './define.ts';

const J1850 = { poly: 0x1d, init: 0xff, xorout: 0xff };
const H2F = { poly: 0x2f, init: 0xff, xorout: 0xff };

/** One byte per counter value goes into the check behind the payload; so it acts as one constant per counter value. */
const HOME_LIST = [
  0x4e, 0x91, 0x07, 0xd3, 0x68, 0xba, 0x25, 0xfc, 0x13, 0x86, 0x5b, 0xe9, 0x30, 0xa4, 0x7f, 0xc2,
] as const;
const through = crcTable({ width: 8, poly: 0x2f, reflected: false });

export const COLUMN: Traffic[] = [
  traffic(
    'column',
    'Plover',
    'steering torque',
    {
      id: 0x0b4,
      length: 8,
      periodMs: 10,
      counter: counter(8, 4, { skip: [15] }),
      check: check(0, [1, 2, 3, 4, 5, 6, 7], 'crc', J1850),
    },
    [
      choice('assist state', little(12, 2), ['off', 'ready', 'assisting', 'following'], (w) =>
        w.flag('gateway sweeps the wheel') ? 3 : w.now.speed > 0.5 ? 2 : 1,
      ),
      flag('torque valid', 15, () => 1),
      number(
        'driver torque',
        big(23, 12),
        { signed: true, scale: 0.01, unit: 'N·m', min: -20, max: 20 },
        (w) => w.driverNm,
      ),
      number('motor torque', big(27, 12), { signed: true, scale: 0.02, unit: 'N·m' }, (w) => w.motorNm),
      number('motor current', little(40, 9), { scale: 0.25, unit: 'A' }, (w) =>
        Math.abs(3.4 * w.motorNm + w.noise(0.2)),
      ),
    ],
  ),
  traffic(
    'column',
    'Plover',
    'column angle',
    {
      id: 0x0b8,
      length: 8,
      periodMs: 10,
      counter: counter(46, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'crc', { ...J1850, idBytes: [0, 1] }),
    },
    [
      number('column angle', big(7, 16), { signed: true, scale: 0.05, unit: '°' }, (w) => w.wheelDeg + 0.4),
      number(
        'column rate',
        big(23, 14),
        { signed: true, scale: 0.25, unit: '°/s' },
        (w) => w.wheelDegPerS + w.noise(0.3),
      ),
      flag('index found', 25, () => 1),
      // The motor turns 18.5 times for one turn of the wheel; its angle wraps.
      number('motor position', little(34, 10), { scale: 360 / 1024, unit: '°' }, (w) => {
        const turns = ((w.wheelDeg + 0.4) * 18.5) / 360;
        return 360 * (turns - Math.floor(turns)) - 0.2;
      }),
    ],
  ),
  traffic(
    'column',
    'Plover',
    'steering unit status',
    {
      id: 0x2b0,
      length: 6,
      periodMs: 100,
      selector: { start: 0, length: 2, byteOrder: 'little' },
      selectorCycle: [0, 1, 2],
      background: [0, 0, 0, 0, 0, 0],
    },
    [
      choice('unit mode', little(2, 3), ['sleep', 'start', 'normal', 'reduced', 'fault'], () => 2),
      number(
        'motor temperature',
        little(8, 8),
        { offset: -40, unit: '°C', selectorValue: 0 },
        (w) => 31 + 9 * (1 - Math.exp(-w.t / 80)) + w.noise(0.3),
      ),
      number(
        'board temperature',
        little(16, 8),
        { offset: -40, unit: '°C', selectorValue: 0 },
        (w) => 36 + 5 * (1 - Math.exp(-w.t / 50)) + w.noise(0.3),
      ),
      number(
        'supply voltage',
        little(8, 10),
        { scale: 0.02, unit: 'V', selectorValue: 1 },
        (w) => 13.9 - 0.012 * Math.abs(w.motorNm) + w.noise(0.03),
      ),
      number('starts', little(8, 16), { selectorValue: 2 }, () => 1873),
      number('version', little(24, 16), { selectorValue: 2 }, () => 0x0412),
    ],
  ),
  traffic(
    'column',
    'Dunlin',
    'steering angle',
    {
      id: 0x0c2,
      length: 7,
      periodMs: 10,
      counter: counter(28, 4),
      check: check(6, [0, 1, 2, 3, 4, 5], 'xor', { init: 0x5a }),
      background: [0, 0, 0, 0, 0x21, 0, 0],
    },
    [
      number(
        'steering angle',
        little(0, 16),
        { signed: true, scale: 0.1, unit: '°', min: -780, max: 780 },
        (w) => w.wheelDeg,
      ),
      number(
        'steering rate',
        little(16, 9),
        { signed: 'magnitude', scale: 4, unit: '°/s' },
        (w) => w.wheelDegPerS + w.noise(0.6),
      ),
      flag('calibrated', 25, () => 1),
    ],
  ),
  traffic(
    'column',
    'Dunlin',
    'angle sensor status',
    { id: 0x3c2, length: 4, periodMs: 200, background: [0x00, 0x17, 0xc4, 0x09] },
    [choice('sensor state', little(0, 3), ['start', 'learning', 'normal', 'fault'], () => 2)],
  ),
  traffic(
    'column',
    'gateway',
    'home speed',
    {
      id: 0x0a0,
      length: 8,
      periodMs: 20,
      counter: counter(8, 4),
      check: check(0, [1, 2, 3, 4, 5, 6, 7], 'crc', {
        ...H2F,
        suffix: [0],
        perCounter: HOME_LIST.map((byte) => (through[byte] as number) ^ (through[0] as number)),
      }),
    },
    [
      number('vehicle speed', little(12, 16), { scale: 0.005, unit: 'km/h', max: 300 }, (w) => w.speedKmh),
      flag('speed valid', 28, () => 1),
      flag('engine running', 29, () => 1),
    ],
  ),
  traffic(
    'column',
    'gateway',
    'steering order',
    {
      id: 0x0a8,
      length: 8,
      periodMs: 20,
      counter: counter(8, 4, { skip: [15] }),
      check: check(0, [1, 2, 3, 4, 5, 6, 7], 'crc', J1850),
    },
    [
      flag('order active', 12, (w) => w.flag('gateway sweeps the wheel')),
      number(
        'order angle',
        big(23, 16),
        { signed: true, scale: 0.05, unit: '°', min: -600, max: 600 },
        (w) => w.orderDeg,
      ),
    ],
  ),
  traffic(
    'column',
    'gateway',
    'ignition',
    {
      id: 0x1c0,
      length: 4,
      periodMs: 100,
      counter: counter(4, 4),
      check: check(3, [0, 1, 2], 'sum', { idBytes: [0, 1] }),
      background: [0, 0x60, 0x0d, 0],
    },
    [choice('key', little(0, 3), ['off', 'accessory', 'on', 'start'], () => 2)],
  ),
];
