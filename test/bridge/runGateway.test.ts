import { expect, test } from 'vitest';
import { assembleGateway } from '../../src/bridge/assemble.ts';
import { GatewayRun } from '../../src/bridge/runGateway.ts';
import { readRaw } from '../../src/can/bits.ts';
import { checkValue } from '../../src/can/check.ts';
import { FLAG } from '../../src/can/frame.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import { modeNumber } from '../../src/guard/inputs.ts';
import { counterIn, dictionaries, frameOf, guardPlan, messageOf, parts } from './fixture.ts';

const gateway = assembleGateway({
  ...parts(),
  guards: [bindGuard(guardPlan(), dictionaries(), 10).stage],
});
const [speed, angle, torque, command] = [
  messageOf('van', 'Speed'),
  messageOf('van', 'Wheel angle (Dunlin)'),
  messageOf('plover', 'Torque'),
  messageOf('control', 'Command'),
];

/** A van that drives at 18 km/h with the wheel at `angleDeg`, a controller that asks for `commandDeg`. */
class Drive {
  readonly run = new GatewayRun(gateway);
  k = 0;
  #counters = [0, 0, 0, 0];

  step(commandDeg: number, angleDeg: number, pins = [0, 0], torqueNm = 0): void {
    const next = (i: number, size: number) =>
      (this.#counters[i] = ((this.#counters[i] as number) + 1) % size);
    const send = (bus: number, m: typeof speed, payload: Uint8Array) =>
      this.run.receive(bus, m.id, m.extended ? FLAG.extended : 0, payload, 0, payload.length);
    send(0, speed, frameOf(speed, { Speed: 1800 }, next(0, 15)));
    send(0, angle, frameOf(angle, { Angle: Math.round(angleDeg * 10) }, next(1, 16)));
    if (this.k % 2 === 0)
      send(1, torque, frameOf(torque, { 'Driver torque': Math.round((torqueNm + 20.48) * 100) }, next(2, 4)));
    send(2, command, frameOf(command, { Angle: Math.round(commandDeg * 20), Request: 1 }, next(3, 16)));
    this.run.step(this.k++ * 10, pins);
  }

  /** Payload of what was sent under this name in the last step. */
  sent(name: string): Uint8Array | null {
    const { sent } = this.run;
    for (let i = 0; i < sent.count; i++) {
      const tx = gateway.tx[sent.message[i] as number]!;
      const from = sent.offset[i] as number;
      if (tx.name === name) return sent.payload.slice(from, from + tx.length);
    }
    return null;
  }

  mode(): number {
    const at = gateway.stages.findIndex((s) => s.role === 'guard');
    const index = gateway.stages[at]!.program.outputs.findIndex((o) => o.name === 'mode');
    return this.run.outputs(at)[index] as number;
  }

  /** Hands over: holds the conditions, then presses. */
  arm(): void {
    for (let i = 0; i < 60; i++) this.step(2, 2);
    for (let i = 0; i < 10 && this.mode() !== modeNumber('armed'); i++) this.step(2, 2, [1, 0]);
  }
}

test('what one bus says is told to the other with its own scale, counter and check field', () => {
  const drive = new Drive();
  const target = messageOf('plover', 'Van speed');
  const counters: number[] = [];
  for (let k = 0; k < 8; k++) {
    drive.step(0, 0);
    const frame = drive.sent('plover_van_speed');
    if (!frame) continue;
    counters.push(counterIn(target, frame));
    // 18 km/h in steps of 0.0625 km/h.
    expect(readRaw(frame, 0, target.signals[0]!)).toBe(288);
    expect(frame[4]).toBe(checkValue(target.check!, target.id, frame, 0, frame.length, counters.at(-1)));
  }
  expect(counters).toEqual([0, 3, 6, 9]);
});

test('the guard arms from frames and a press, and its order reaches the unit within level and slew', () => {
  const drive = new Drive();
  drive.arm();
  expect(drive.mode()).toBe(modeNumber('armed'));
  const order = messageOf('plover', 'Order');
  let last = 20;
  for (let k = 0; k < 600; k++) {
    drive.step(400, 2);
    const frame = drive.sent('plover_order');
    if (!frame) continue;
    const raw = readRaw(frame, 0, order.signals[0]!);
    // Slew at 5 m/s is 130 °/s: at most 2.6° in 20 ms, and one more tenth by cutting off.
    expect(raw - last).toBeLessThanOrEqual(27);
    expect(readRaw(frame, 0, order.signals[1]!)).toBe(1);
    last = raw;
  }
  // Level at 5 m/s is 120°.
  expect(last).toBe(1200);
});

test('a frame of the wrong length, a remote frame, an error message and a frame of another bus are not heard', () => {
  const run = new GatewayRun(gateway);
  const payload = frameOf(speed, { Speed: 1800 }, 0);
  const valid = () => run.outputs(0)[0];
  const tries: [number, number, number][] = [
    [0, 0, 5],
    [0, FLAG.remote, 6],
    [0, FLAG.error, 6],
    [1, 0, 6],
    [0, FLAG.extended, 6],
  ];
  // Seven bytes of which the first six would be right.
  tries.push([0, 0, 7]);
  const longer = Uint8Array.from([...payload, 0]);
  for (const [bus, flags, length] of tries) {
    run.receive(bus, speed.id, flags, longer, 0, length);
    run.step(0, [0, 0]);
    expect(valid()).toBe(0);
  }
  run.receive(0, speed.id, 0, payload, 0, 6);
  run.step(0, [0, 0]);
  expect(valid()).toBe(1);
});

test('a frame counts in the step after it and in no other, also where no counter would tell', () => {
  const p = parts();
  p.dictionaries[0]!.messages[0] = { ...speed, counter: undefined, check: undefined };
  const run = new GatewayRun(assembleGateway(p));
  run.receive(0, speed.id, 0, frameOf(speed, { Speed: 100 }, 0), 0, 6);
  const ages = [1, 2, 3].map(() => {
    run.step(0, []);
    return [run.outputs(0)[0], run.outputs(0)[1]];
  });
  expect(ages).toEqual([
    [1, 0],
    [0, 1],
    [0, 2],
  ]);
});

test('the guard hears how fast the van is, whichever way it rolls', () => {
  const run = new GatewayRun(gateway);
  run.receive(0, speed.id, 0, frameOf(speed, { Speed: -1800 }, 0), 0, 6);
  run.step(0, [0, 0]);
  const index = gateway.stages[0]!.program.outputs.findIndex((o) => o.name === 'speed');
  expect(run.outputs(0)[index]).toBe(500);
});

test('of two frames between steps the later one counts', () => {
  const run = new GatewayRun(gateway);
  for (const [raw, counter] of [
    [100, 3],
    [200, 4],
  ] as const) {
    run.receive(0, speed.id, 0, frameOf(speed, { Speed: raw }, counter), 0, 6);
  }
  run.step(0, [0, 0]);
  const index = gateway.stages[0]!.program.outputs.findIndex((o) => o.name === 'speed_raw');
  expect(run.outputs(0)[index]).toBe(200);
});

test('after a reset everything is as after switching on', () => {
  const drive = new Drive();
  drive.arm();
  drive.run.reset();
  const fresh = new GatewayRun(gateway);
  drive.run.step(0, [0, 0]);
  fresh.step(0, [0, 0]);
  gateway.stages.forEach((_, k) => {
    expect(drive.run.outputs(k)).toEqual(fresh.outputs(k));
    expect(drive.run.state(k)).toEqual(fresh.state(k));
  });
});
