/** A small invented plan: van Wagtail, its controller, and the column steering unit Plover, with every kind of protection. */

import type { BridgePlan } from '../../src/bridge/model.ts';
import type { GatewayParts } from '../../src/bridge/plan.ts';
import { bridgeSchema } from '../../src/bridge/schema.ts';
import { readBits, writeBits, writeRaw } from '../../src/can/bits.ts';
import { writeCheck } from '../../src/can/check.ts';
import { camelKeys } from '../../src/dictionary/case.ts';
import type { Dictionary, Message } from '../../src/dictionary/model.ts';
import { dictionarySchema } from '../../src/dictionary/schema.ts';
import { guardSchema } from '../../src/guard/schema.ts';
import type { AnglePlan } from '../guard/plan.ts';

const le = 'little';
const be = 'big';

const van = {
  form: 'dictionary/1',
  bus: 'van',
  messages: [
    {
      name: 'Speed',
      id: 0x0de,
      length: 6,
      period_ms: 10,
      counter: { start: 32, length: 4, skip: [15] },
      check: {
        start: 40,
        length: 8,
        algorithm: 'crc',
        poly: 0x1d,
        init: 0xff,
        xorout: 0xff,
        covers: [0, 1, 2, 3, 4],
      },
      signals: [
        {
          name: 'Speed',
          start: 7,
          length: 16,
          byte_order: be,
          scale: 0.01,
          unit: 'km/h',
          min: -50,
          max: 250,
          signed: true,
        },
        { name: 'Reverse', start: 16, length: 1, byte_order: le },
      ],
    },
    {
      name: 'Wheel angle (Dunlin)',
      id: 0x0c6,
      length: 7,
      period_ms: 10,
      counter: { start: 44, length: 4 },
      check: {
        start: 48,
        length: 8,
        algorithm: 'xor',
        init: 0x5a,
        covers: [0, 1, 2, 3, 4, 5],
        id_bytes: [0, 1],
      },
      signals: [
        { name: 'Angle', start: 0, length: 15, byte_order: le, signed: 'magnitude', scale: 0.1, unit: '°' },
        { name: 'Rate', start: 16, length: 12, byte_order: le, signed: true, scale: 4, unit: '°/s' },
      ],
    },
    {
      name: 'Display',
      id: 0x3a0,
      length: 2,
      period_ms: 100,
      signals: [{ name: 'int', start: 0, length: 8, byte_order: le, unit: 'km/h' }],
    },
  ],
};

const plover = {
  form: 'dictionary/1',
  bus: 'plover',
  messages: [
    {
      name: 'Torque',
      id: 0x1a2,
      length: 4,
      period_ms: 20,
      counter: { start: 16, length: 2 },
      check: { start: 24, length: 8, algorithm: 'sum', init: 7, covers: [0, 1, 2], suffix: [0x33] },
      signals: [
        {
          name: 'Driver torque',
          start: 0,
          length: 12,
          byte_order: le,
          scale: 0.01,
          offset: -20.48,
          unit: 'Nm',
          min: -15,
          max: 15,
        },
      ],
    },
    {
      name: 'Order',
      id: 0x0e4,
      length: 8,
      period_ms: 20,
      counter: { start: 52, length: 4, step: 1, skip: [15] },
      check: {
        start: 56,
        length: 8,
        algorithm: 'crc',
        poly: 0x2f,
        init: 0xff,
        xorout: 0xff,
        covers: [0, 1, 2, 3, 4, 5, 6],
        per_counter: [
          0x11, 0x2e, 0x38, 0x47, 0x5b, 0x6c, 0x72, 0x8d, 0x9a, 0xa3, 0xb5, 0xc4, 0xd9, 0xe6, 0xf0,
        ],
      },
      signals: [
        { name: 'Angle', start: 7, length: 14, byte_order: be, signed: true, scale: 0.1, unit: 'deg' },
        { name: 'Active', start: 8, length: 1, byte_order: le },
      ],
    },
    {
      name: 'Van speed',
      id: 0x120,
      length: 5,
      period_ms: 20,
      counter: { start: 28, length: 4, step: 3 },
      check: {
        start: 32,
        length: 8,
        algorithm: 'sumComplement',
        init: 0,
        covers: [0, 1, 2, 3],
        id_bytes: [0],
      },
      signals: [
        { name: 'Speed', start: 0, length: 13, byte_order: le, scale: 0.0625, unit: 'km/h' },
        { name: 'State', start: 16, length: 3, byte_order: le },
      ],
    },
  ],
};

const control = {
  form: 'dictionary/1',
  bus: 'control',
  messages: [
    {
      name: 'Command',
      id: 0x18ff1021,
      extended: true,
      length: 8,
      period_ms: 10,
      counter: { start: 60, length: 4 },
      check: {
        start: 56,
        length: 4,
        algorithm: 'nibbleSum',
        width: 4,
        xorout: 15,
        covers: [0, 1, 2, 3, 4, 5, 6, 7],
        id_bytes: [0],
      },
      signals: [
        { name: 'Angle', start: 0, length: 16, byte_order: le, signed: true, scale: 0.05, unit: '°' },
        { name: 'Request', start: 16, length: 1, byte_order: le },
      ],
    },
    {
      name: 'Van state',
      id: 0x18ff2055,
      extended: true,
      length: 8,
      period_ms: 20,
      counter: { start: 48, length: 8 },
      check: {
        start: 56,
        length: 8,
        algorithm: 'crc',
        poly: 0x07,
        reflected: true,
        init: 0xff,
        covers: [0, 1, 2, 3, 4, 5, 6],
        id_bytes: [0, 1, 2, 3],
        prefix: [1, 2],
      },
      signals: [
        { name: 'Speed', start: 0, length: 16, byte_order: le, scale: 0.00390625, unit: 'm/s', max: 60 },
        {
          name: 'Angle',
          start: 16,
          length: 16,
          byte_order: le,
          scale: 0.0009765625,
          offset: -31.374,
          unit: 'rad',
        },
        { name: 'Torque', start: 39, length: 8, byte_order: be, signed: true, scale: 0.25, unit: 'Nm' },
      ],
    },
  ],
};

const bridge = {
  form: 'bridge/1',
  step_ms: 10,
  routes: [
    {
      name: 'speed for Plover',
      to: { bus: 'plover', message: 'Van speed' },
      period_ms: 20,
      source_age_ms: 100,
      on_loss: 'stop',
      signals: [
        { to: 'Speed', from: { bus: 'van', message: 'Speed', signal: 'Speed' } },
        { to: 'State', value: 5 },
      ],
    },
    {
      name: 'van state',
      to: { bus: 'control', message: 'Van state' },
      period_ms: 20,
      source_age_ms: 60,
      on_loss: 'send',
      signals: [
        {
          to: 'Speed',
          from: { bus: 'van', message: 'Speed', signal: 'Speed' },
          gain: 0.2777777777777778,
          on_loss: 60,
        },
        {
          to: 'Angle',
          from: { bus: 'van', message: 'Wheel angle (Dunlin)', signal: 'Angle' },
          gain: -0.017453292519943295,
        },
        {
          to: 'Torque',
          from: { bus: 'plover', message: 'Torque', signal: 'Driver torque' },
          on_loss: 'hold',
        },
      ],
    },
    {
      name: 'Lüfter · display',
      to: { bus: 'van', message: 'Display' },
      period_ms: 100,
      source_age_ms: 10_000,
      signals: [{ to: 'int', from: { bus: 'van', message: 'Speed', signal: 'Speed' }, bias: 0.4 }],
    },
  ],
};

const guard = {
  form: 'guard/2',
  arm_input: { name: 'hand over', active: 'high' },
  stop_input: { name: 'stop', active: 'low' },
  handover: {
    request: { bus: 'control', message: 'Command', signal: 'Request' },
    speed: { bus: 'van', message: 'Speed', signal: 'Speed' },
    command_age_ms: 100,
    sensor_age_ms: 100,
    release_ms: 600,
    arm_hold_ms: 300,
    driver_torque: {
      signal: { bus: 'plover', message: 'Torque', signal: 'Driver torque' },
      at_nm: 3,
      for_ms: 50,
    },
  },
  steering: {
    by: 'angle',
    command: { bus: 'control', message: 'Command', signal: 'Angle' },
    angle: { bus: 'van', message: 'Wheel angle (Dunlin)', signal: 'Angle' },
    output: { bus: 'plover', message: 'Order' },
    output_order: 'Angle',
    output_active: 'Active',
    output_period_ms: 20,
    level: [
      { speed_mps: 0, angle_deg: 300 },
      { speed_mps: 5, angle_deg: 120 },
      { speed_mps: 10, angle_deg: 40 },
      { speed_mps: 20, angle_deg: 12 },
    ],
    slew: [
      { speed_mps: 0, rate_deg_per_s: 200 },
      { speed_mps: 10, rate_deg_per_s: 60 },
      { speed_mps: 20, rate_deg_per_s: 20 },
    ],
    arm_angle_deg: 5,
  },
  budget: { reaction_time_s: 1.5, lateral_distance_m: 0.8, speed_max_mps: 18 },
};

export const BUSES = [
  { name: 'van', number: 0, bitRateBps: 500_000 },
  { name: 'plover', number: 1, bitRateBps: 500_000 },
  { name: 'control', number: 2, bitRateBps: 500_000 },
];

export function dictionaries(): Dictionary[] {
  return [van, plover, control].map((d) => camelKeys(dictionarySchema.parse(d)) as Dictionary);
}

export function bridgePlan(): BridgePlan {
  return camelKeys(bridgeSchema.parse(bridge)) as BridgePlan;
}

export function guardPlan(): AnglePlan {
  return camelKeys(guardSchema.parse(guard)) as AnglePlan;
}

export function parts(): GatewayParts {
  return {
    name: 'Wagtail gateway',
    stepMs: 10,
    buses: BUSES,
    dictionaries: dictionaries(),
    bridge: bridgePlan(),
    guards: [],
  };
}

export function messageOf(bus: string, name: string): Message {
  const message = dictionaries()
    .find((d) => d.bus === bus)
    ?.messages.find((m) => m.name === name);
  if (!message) throw new Error(`no message ${name} on ${bus}`);
  return message;
}

/** A frame of a message with these raw values, its counter and a right check field: made by `can/`, not by the bridge. */
export function frameOf(message: Message, raw: Record<string, number>, counter = 0): Uint8Array {
  const payload = new Uint8Array(message.length);
  for (const signal of message.signals) writeRaw(payload, 0, signal, raw[signal.name] ?? 0);
  if (message.counter) writeBits(payload, 0, message.counter, counter);
  if (message.check) writeCheck(message.check, message.id, payload, 0, message.length, counter);
  return payload;
}

export function counterIn(message: Message, payload: Uint8Array, from = 0): number {
  return message.counter ? readBits(payload, from, message.counter) : 0;
}
