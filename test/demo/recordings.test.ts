import { describe, expect, test } from 'vitest';
import { WAGTAIL } from '../../demo/generator/host.ts';
import { BENCH_1, DRIVE_1, record, truth } from '../../demo/generator/index.ts';
import { UNITS } from '../../demo/generator/units.ts';
import { FLAG } from '../../src/can/frame.ts';
import { classicalFrameBits } from '../../src/can/length.ts';
import { understeerGradient } from '../../src/car/steady.ts';
import { verifyCounter } from '../../src/dictionary/counter.ts';
import { messageFrames } from '../../src/dictionary/decode.ts';
import { dictionaryProblems } from '../../src/dictionary/problems.ts';
import { verifyCheck } from '../../src/dictionary/verify.ts';
import { at, correlation, recording, series, trueMessage } from './recording.ts';

const drive = recording('drive-1');
const bench = recording('bench-1');

describe('what was recorded', () => {
  test('drive-1 holds two buses, 27 messages and about 120 seconds', () => {
    const ids = new Set(Array.from(drive.id, (id, i) => `${drive.bus[i]} ${id}`));
    expect(ids.size).toBe(27);
    expect([...new Set(drive.bus)].sort()).toEqual([0, 1]);
    expect(drive.count).toBeGreaterThan(100_000);
    expect(drive.time[drive.count - 1]).toBeCloseTo(120, 1);
  });

  test('bench-1 holds three buses and no radar', () => {
    expect([...new Set(bench.bus)].sort()).toEqual([0, 1, 2]);
    expect(messageFrames(bench, 1, trueMessage('chassis', 'object 1').message).length).toBe(0);
    expect(bench.time[bench.count - 1]).toBeCloseTo(60, 1);
  });

  test('the truth contradicts itself nowhere', () => {
    for (const bus of ['column', 'chassis', 'controller']) {
      const messages = truth().messages.filter((m) => m.bus === bus);
      expect(
        dictionaryProblems({ form: 'dictionary/1', bus, messages: messages.map((m) => m.message) }),
      ).toEqual([]);
    }
  });

  test('every counter counts and every check field verifies, but for the controller that is told to fail', () => {
    for (const [name, capture] of [
      ['drive-1', drive],
      ['bench-1', bench],
    ] as const) {
      for (const { bus, busNumber, message } of truth().messages) {
        const frames = messageFrames(capture, busNumber, message);
        if (frames.length === 0 || (bus === 'controller' && message.name === 'steering command')) continue;
        const where = `${message.name} in ${name}`;
        const check = verifyCheck(capture, frames, message);
        if (check) expect(check, where).toMatchObject({ agree: frames.length, tooShort: 0 });
        if (!message.counter) continue;
        const counted = verifyCounter(capture, frames, message.counter);
        expect(counted, where).toMatchObject({ agree: frames.length - 1, skippedSeen: 0 });
      }
    }
  });

  test('the same seed gives the same recording, another seed another one', () => {
    const short = { ...BENCH_1, durationS: 4 };
    const a = record(short, 5);
    const b = record(short, 5);
    const c = record(short, 6);
    expect(b).toEqual(a);
    expect(Buffer.compare(a.payload, c.payload)).not.toBe(0);
  });
});

describe('the wires', () => {
  test('frames of a bus never overlap', () => {
    for (const bus of [0, 1]) {
      let freeS = 0;
      let least = Number.POSITIVE_INFINITY;
      for (let i = 0; i < drive.count; i++) {
        if (drive.bus[i] !== bus) continue;
        const [id, flags, from, length] = [drive.id[i], drive.flags[i], drive.offset[i], drive.length[i]];
        const bits = classicalFrameBits(id!, flags!, drive.payload, from!, length!);
        least = Math.min(least, drive.time[i]! - (bits - 3) / 500_000 - freeS);
        freeS = drive.time[i]! + 3 / 500_000;
      }
      expect(least).toBeGreaterThan(-2e-6);
    }
  });

  test('each unit keeps its own clock: the skew of its messages is what the truth says within 8 parts per million', () => {
    for (const { busNumber, message } of truth().messages) {
      if (!message.periodMs || message.periodMs > 20) continue;
      const frames = messageFrames(drive, busNumber, message);
      if (frames.length === 0) continue;
      const [first, last] = [frames[0] as number, frames.at(-1) as number];
      const seconds = (drive.time[last] as number) - (drive.time[first] as number);
      const nominal = ((frames.length - 1) * message.periodMs) / 1000;
      const ppm = (1 - seconds / nominal) * 1e6;
      const unit = Object.values(UNITS).find((u) => u.name === message.sender);
      expect(Math.abs(ppm - (unit?.skewPpm as number)), message.name).toBeLessThan(8);
    }
  });

  test('the radar status has a 29-bit identifier', () => {
    const { message } = trueMessage('chassis', 'radar status');
    const [first] = messageFrames(drive, 1, message);
    expect((drive.flags[first as number] as number) & FLAG.extended).toBe(FLAG.extended);
  });
});

describe('the physics', () => {
  const speed = series(drive, 'chassis', 'road speed', 'road speed');
  const yaw = series(drive, 'chassis', 'motion', 'yaw rate');
  const lateral = series(drive, 'chassis', 'motion', 'lateral acceleration');
  const angle = series(drive, 'column', 'steering angle', 'steering angle');
  const times = Array.from({ length: 480 }, (_, k) => 22 + k * 0.2).filter((t) => at(speed, t) > 15);

  test('speed times yaw rate is lateral acceleration', () => {
    const product = times.map((t) => ((at(speed, t) / 3.6) * at(yaw, t) * Math.PI) / 180);
    const measured = times.map((t) => at(lateral, t));
    expect(correlation(product, measured)).toBeGreaterThan(0.97);
  });

  test('yaw rate follows from speed, steering angle, wheelbase and understeer', () => {
    const k = understeerGradient(WAGTAIL);
    const predicted = times.map((t) => {
      const v = at(speed, t) / 3.6;
      return (v * at(angle, t)) / WAGTAIL.steeringRatio / (WAGTAIL.wheelbaseM + k * v * v);
    });
    const measured = times.map((t) => at(yaw, t));
    expect(correlation(predicted, measured)).toBeGreaterThan(0.98);
    const error =
      measured.reduce((sum, y, i) => sum + Math.abs(y - (predicted[i] as number)), 0) / times.length;
    expect(error).toBeLessThan(0.6);
  });

  test('rear wheels differ by yaw rate times track', () => {
    const left = series(drive, 'chassis', 'wheel speeds rear', 'wheel speed rear left');
    const right = series(drive, 'chassis', 'wheel speeds rear', 'wheel speed rear right');
    const difference = times.map((t) => (at(right, t) - at(left, t)) / 3.6);
    const turning = times.map((t) => (at(yaw, t) * Math.PI) / 180);
    expect(correlation(difference, turning)).toBeGreaterThan(0.95);
    const sum = difference.reduce((total, d, i) => total + d * (turning[i] as number), 0);
    const square = turning.reduce((total, t) => total + t * t, 0);
    expect(sum / square).toBeCloseTo(1.72, 1);
  });

  test('the two angle sensors agree but for 0.4°, and the rate is the slope of the angle', () => {
    const column = series(drive, 'column', 'column angle', 'column angle');
    const rate = series(drive, 'column', 'column angle', 'column rate');
    for (const t of times) expect(Math.abs(at(column, t) - at(angle, t) - 0.4)).toBeLessThan(2.5);
    const slope = times.map((t) => (at(column, t + 0.02) - at(column, t - 0.02)) / 0.04);
    expect(
      correlation(
        slope,
        times.map((t) => at(rate, t)),
      ),
    ).toBeGreaterThan(0.97);
  });

  test('the van slows down while there is brake pressure and never exceeds the road', () => {
    const pressure = series(drive, 'chassis', 'brake circuit', 'brake pressure');
    const along = series(drive, 'chassis', 'motion', 'longitudinal acceleration');
    const braking = times.filter((t) => at(pressure, t) > 12);
    expect(braking.length).toBeGreaterThan(8);
    for (const t of braking) expect(at(along, t)).toBeLessThan(-0.4);
    expect(Math.max(...speed.value)).toBeLessThan(50);
  });

  test('the steering unit follows the order in the sweep with a short lag', () => {
    const order = series(drive, 'column', 'steering order', 'order angle');
    const sweep = Array.from({ length: 90 }, (_, k) => 4.9 + k * 0.05);
    const fit = (lag: number) =>
      correlation(
        sweep.map((t) => at(order, t - lag)),
        sweep.map((t) => at(angle, t)),
      );
    expect(fit(0.16)).toBeGreaterThan(0.99);
    expect(fit(0.16)).toBeGreaterThan(fit(0));
    expect(fit(0.16)).toBeGreaterThan(fit(0.4));
  });

  test('the distance to what drives ahead shrinks at its relative speed', () => {
    const distance = series(drive, 'chassis', 'object 1', 'distance');
    const rate = series(drive, 'chassis', 'object 1', 'relative speed');
    const seen = series(drive, 'chassis', 'object 1', 'seen');
    const moments = Array.from({ length: 240 }, (_, k) => k * 0.5).filter(
      (t) => at(seen, t) === 1 && at(seen, t + 1) === 1,
    );
    expect(moments.length).toBeGreaterThan(30);
    for (const t of moments) {
      expect(
        Math.abs(at(distance, t + 1) - at(distance, t) - (at(rate, t) + at(rate, t + 1)) / 2),
      ).toBeLessThan(0.7);
    }
  });
});

describe('what the bench asks of bridge and guard', () => {
  const { message, busNumber } = trueMessage('controller', 'steering command');
  const frames = messageFrames(bench, busNumber, message);
  const between = (from: number, to: number) =>
    frames.filter((i) => (bench.time[i] as number) > from && (bench.time[i] as number) <= to);

  test('commands are missing for 300 ms, wrong in their check for 500 ms, and stand still in their counter for 600 ms', () => {
    expect(between(19.02, 19.3).length).toBe(0);
    expect(verifyCheck(bench, between(27.02, 27.5), message)).toMatchObject({ agree: 0, frames: 24 });
    expect(verifyCheck(bench, between(27.6, 33), message)).toMatchObject({ agree: between(27.6, 33).length });
    const frozen = between(34.03, 34.6);
    const report = verifyCounter(bench, frozen, message.counter!);
    expect(report.repeats).toBe(report.steps);
    expect(report.steps).toBeGreaterThan(20);
  });

  test('commands are too large, then too quick; otherwise they follow the wheel', () => {
    const command = series(bench, 'controller', 'steering command', 'command angle');
    const angle = series(bench, 'column', 'steering angle', 'steering angle');
    expect(at(command, 9.8) - at(angle, 9.8)).toBeGreaterThan(90);
    const quick = Array.from({ length: 100 }, (_, k) => at(command, 13.1 + k * 0.018));
    expect(Math.max(...quick) - Math.min(...quick)).toBeGreaterThan(45);
    for (let t = 2; t < 8.5; t += 0.1) expect(Math.abs(at(command, t) - at(angle, t))).toBeLessThan(2);
  });

  test('the driver turns the wheel once and otherwise keeps off', () => {
    const torque = series(bench, 'column', 'steering torque', 'driver torque');
    expect(at(torque, 42.3)).toBeGreaterThan(4);
    for (let t = 1; t < 41; t += 0.05) expect(Math.abs(at(torque, t))).toBeLessThan(1);
  });

  test('each press of a button is long enough to be one, and the events of both recordings lie within them', () => {
    for (const scenario of [DRIVE_1, BENCH_1]) {
      for (const event of scenario.events) {
        expect(event.endS - event.startS).toBeGreaterThanOrEqual(0.3 - 1e-9);
        expect(event.endS).toBeLessThanOrEqual(scenario.durationS);
      }
    }
  });
});
