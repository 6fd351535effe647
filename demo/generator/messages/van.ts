/** Bus `chassis`, the van's own units: brake control with wheel speeds and motion, engine, body. */
import { big, check, choice, counter, flag, little, number, type Traffic, traffic } from './define.ts';

const WHEEL = { scale: 0.01, unit: 'km/h', max: 250 };
/** Teeth that pass a wheel sensor on one metre of road, front and rear tyre. */
const TEETH_PER_M = { front: 23.87, rear: 23.61 };

export const VAN: Traffic[] = [
  wheels('front', 0x0d0, 1),
  wheels('rear', 0x0d2, -1),
  traffic(
    'chassis',
    'brakes',
    'motion',
    {
      id: 0x0f1,
      length: 8,
      periodMs: 20,
      counter: counter(43, 4),
      check: check(7, [0, 1, 2, 3, 4, 5, 6], 'crc', {
        poly: 0xe3,
        init: 0x00,
        xorout: 0x3c,
        reflected: true,
      }),
      background: [0xa0, 0, 0, 0, 0, 0, 0x55, 0],
    },
    [
      number(
        'yaw rate',
        big(3, 12),
        { signed: true, scale: 0.05, unit: '°/s', min: -100, max: 100 },
        (w) => w.yawRateDegPerS + 0.15 + w.noise(0.06),
      ),
      number(
        'lateral acceleration',
        big(23, 11),
        { signed: true, scale: 0.02, unit: 'm/s²' },
        (w) => w.now.lateralAcceleration + 0.05 + w.noise(0.03),
      ),
      number(
        'longitudinal acceleration',
        big(28, 10),
        { signed: true, scale: 0.03, unit: 'm/s²' },
        (w) => w.now.acceleration + w.noise(0.03),
      ),
      flag('motion valid', 34, () => 1),
    ],
  ),
  traffic(
    'chassis',
    'brakes',
    'brake circuit',
    { id: 0x1a6, length: 6, periodMs: 20, counter: counter(18, 2), background: [0, 0, 0, 0x7f, 0xff, 0] },
    [
      flag('brake lights', 0, (w) => w.brakePressed),
      number('brake pressure', little(4, 12), { scale: 0.1, unit: 'bar' }, (w) =>
        Math.max(0, w.brakeBar + w.noise(0.12)),
      ),
      flag('pump running', 16, (w) => (w.t % 47 < 1.8 ? 1 : 0)),
    ],
  ),
  traffic(
    'chassis',
    'brakes',
    'road speed',
    {
      id: 0x201,
      length: 6,
      periodMs: 20,
      counter: counter(36, 4),
      check: check(5, [0, 1, 2, 3, 4], 'xor', { idBytes: [0, 1] }),
    },
    [
      number('road speed', little(0, 15), { scale: 0.01, unit: 'km/h', max: 250 }, (w) => w.speedKmh),
      flag('speed valid', 15, () => 1),
      number(
        'distance',
        little(16, 16),
        { scale: 0.1, unit: 'm' },
        (w) => (w.now.distance + 4127.3) % 6553.5,
      ),
    ],
  ),
  traffic(
    'chassis',
    'engine',
    'pedals',
    {
      id: 0x120,
      length: 6,
      periodMs: 20,
      counter: counter(20, 4),
      check: check(5, [0, 1, 2, 3, 4], 'xor'),
    },
    [
      number('accelerator', little(0, 8), { scale: 0.4, unit: '%', max: 100 }, (w) => w.acceleratorPercent),
      number('accelerator second track', little(8, 8), { scale: 0.4, unit: '%' }, (w) =>
        Math.max(0, 0.5 * w.acceleratorPercent + 4 + w.noise(0.1)),
      ),
      // On the bench nobody sits at the pedals: the computer that plays the van moves it along the road without them.
      flag('brake pedal', 16, (w) => (w.scenario.wheel === 'bench motor' ? 0 : w.brakePressed)),
      // The second contact closes a little later in the travel.
      flag('brake pedal second contact', 17, (w) => (w.now.braking > 0.2 ? 1 : 0)),
      flag('idle', 18, (w) => (w.now.accelerator < 0.01 ? 1 : 0)),
    ],
  ),
  traffic(
    'chassis',
    'engine',
    'engine',
    { id: 0x130, length: 8, periodMs: 20, background: [0, 0, 0, 0, 0, 0, 0xff, 0xff] },
    [
      number('engine speed', big(7, 16), { scale: 0.25, unit: '1/min' }, (w) => w.engineRpm),
      number(
        'engine torque',
        little(16, 8),
        { scale: 0.5, offset: -25, unit: '%' },
        (w) => w.engineTorquePercent + w.noise(0.4),
      ),
      choice('gear', little(24, 4), ['neutral', '1', '2', '3', '4', '5'], (w) => w.gear),
      flag('engine running', 28, () => 1),
    ],
  ),
  traffic('chassis', 'engine', 'temperatures', { id: 0x2f0, length: 5, periodMs: 500 }, [
    number(
      'coolant temperature',
      little(0, 8),
      { offset: -40, unit: '°C' },
      (w) => 81 + 6 * (1 - Math.exp(-w.t / 70)),
    ),
    number(
      'oil temperature',
      little(8, 8),
      { offset: -40, unit: '°C' },
      (w) => 74 + 9 * (1 - Math.exp(-w.t / 95)),
    ),
    number(
      'outside temperature',
      little(16, 8),
      { scale: 0.5, offset: -40, unit: '°C' },
      (w) => 14.5 + 0.25 * Math.sin(w.t / 31),
    ),
    number('fuel level', little(24, 8), { scale: 0.4, unit: '%' }, (w) => 61.5 + 0.5 * Math.sin(w.t / 3.7)),
  ]),
  traffic(
    'chassis',
    'body',
    'body',
    {
      id: 0x280,
      length: 4,
      periodMs: 200,
      background: [0, 0, 0x80, 0],
      onChange: ['left indicator on', 'right indicator on', 'dipped headlamps on', 'wiper on'],
    },
    [
      flag('left indicator', 0, (w) => w.flag('left indicator on')),
      flag('right indicator', 1, (w) => w.flag('right indicator on')),
      choice('headlamps', little(4, 2), ['off', 'side', 'dipped', 'main'], (w) =>
        w.flag('dipped headlamps on') ? 2 : 0,
      ),
      choice('wiper', little(12, 2), ['off', 'interval', 'slow', 'fast'], (w) =>
        w.flag('wiper on') ? 2 : 0,
      ),
    ],
  ),
  traffic('chassis', 'body', 'clock', { id: 0x350, length: 8, periodMs: 1000 }, [
    number('hour', little(0, 8), {}, (w) => Math.floor(clock(w.t) / 3600)),
    number('minute', little(8, 8), {}, (w) => Math.floor(clock(w.t) / 60) % 60),
    number('second', little(16, 8), {}, (w) => Math.floor(clock(w.t)) % 60),
    number('odometer', little(32, 24), { scale: 0.1, unit: 'km' }, (w) => 187_412.6 + w.now.distance / 1000),
  ]),
];

/** Seconds of the day that the van's clock shows. */
function clock(t: number): number {
  return 9 * 3600 + 27 * 60 + 12 + t;
}

function wheels(axle: 'front' | 'rear', id: number, x: 1 | -1): Traffic {
  const teeth = TEETH_PER_M[axle];
  return traffic(
    'chassis',
    'brakes',
    `wheel speeds ${axle}`,
    {
      id,
      length: 8,
      periodMs: 20,
      counter: counter(48, 4),
      check: check(0, [0, 1, 2, 3, 4, 5, 6], 'nibbleSum', { start: 52, length: 4, width: 4 }),
    },
    [
      number(`wheel speed ${axle} left`, big(7, 16), WHEEL, (w) => w.wheelKmh(x, 1)),
      number(`wheel speed ${axle} right`, big(23, 16), WHEEL, (w) => w.wheelKmh(x, -1)),
      number(`teeth ${axle} left`, little(32, 8), {}, (w) => Math.floor(w.now.distance * teeth) & 255),
      number(`teeth ${axle} right`, little(40, 8), {}, (w) => Math.floor(w.now.distance * teeth + 91) & 255),
    ],
  );
}
