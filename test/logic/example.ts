/** A small steering limiter in the manner of a guard: every block is in it. Figures invented. */
import { approach, counter, debounce, latch, risingEdge, slew, timer } from '../../src/logic/blocks.ts';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { extract, pack } from '../../src/logic/fields.ts';
import type { Program } from '../../src/logic/form.ts';
import { scaleRatio } from '../../src/logic/ratio.ts';

export function steeringLimiter(): Program {
  const b = new ProgramBuilder(
    'steering_limiter',
    'Bounds the torque asked of the column steering unit by speed, and lets go when the driver acts.',
  );
  const now = b.inputClock('now_ms', 'millisecond clock');
  const bytes = [0, 1, 2].map((i) => b.input(`command_${i}`, 0, 255, `byte ${i} of the command`));
  const fresh = b.inputBool('command_fresh', '1 = came since the last step');
  const speed = b.input('speed_raw', 0, 8191, '1/64 km/h');
  const hand = b.input('hand_torque', -1024, 1023, '0.01 Nm');
  const button = b.inputBool('arm_button', '1 = pressed');
  const brake = b.inputBool('brake_pressed', '1 = pressed');

  const before = b.stateClock('before_ms', 0, 'clock at the last step');
  b.next(before, now);
  const spacing = b.named('spacing', b.clockSub(now, before, 1000), 'ms since the last step');
  const late = b.named('late', b.lt(b.const(12), spacing));

  const speedCm = b.named('speed', scaleRatio(b, speed, 100 / 3.6 / 64, 0, 0, 6000), '0.01 m/s');
  const asked = b.named(
    'asked',
    scaleRatio(
      b,
      extract(b, bytes, { start: 7, length: 12, byteOrder: 'big', signed: true }),
      0.5,
      0,
      -500,
      500,
    ),
    '0.01 Nm',
  );
  const level = b.table(speedCm, 'torque_level', [
    [0, 400],
    [300, 400],
    [1000, 250],
    [2500, 90],
    [3200, 40],
  ]);
  const allowed = slew(b, 'level_held', level, {
    lo: 60,
    hi: 350,
    init: 60,
    step: b.const(5),
    note: '0.01 Nm',
  });

  const silent = timer(b, 'silent_steps', b.not(fresh), 6);
  const steered = debounce(b, 'driver_steers', b.lt(b.const(300), b.abs(hand)), 3);
  const fault = b.or(
    late,
    silent.elapsed,
    b.eq(extract(b, bytes, { start: 16, length: 4, byteOrder: 'little', signed: false }), b.const(15)),
  );
  const tripped = latch(b, 'tripped', fault, b.and(b.not(button), b.not(fault), brake), {
    wins: 'set',
    init: 'off',
  });
  const press = risingEdge(b, 'button_before', button);
  const armed = latch(b, 'armed', b.and(press, b.not(brake)), b.or(tripped, steered, brake), {
    wins: 'reset',
  });

  const torqueBefore = b.state('torque_before', -350, 350, 0, '0.01 Nm');
  const wanted = b.select(armed, asked, b.const(0));
  const moved = approach(b, torqueBefore, wanted, b.const(8));
  const torque = b.named('torque', b.clamp(moved, b.sub(b.const(0), allowed), allowed), '0.01 Nm');
  b.next(torqueBefore, torque);
  const count = counter(b, 'count', b.bool(true), { bits: 4, skip: [15] });
  const sent = pack(b, 3, [
    { field: { start: 0, length: 11, byteOrder: 'little', signed: true }, value: torque },
    { field: { start: 11, length: 1, byteOrder: 'little', signed: false }, value: armed },
    { field: { start: 16, length: 4, byteOrder: 'little', signed: false }, value: count },
  ]);
  sent.forEach((byte, i) => {
    b.output(`byte_${i}`, byte);
  });
  b.output(
    'check',
    b.crc(sent, { width: 8, poly: 0x1d, init: 0xff, xorout: 0xff, reflected: false }),
    'CRC over the bytes',
  );
  b.output('armed', armed);
  b.output('spacing', spacing, 'ms');
  b.output('speed', speedCm, '0.01 m/s');
  b.output('level', level, '0.01 Nm');
  b.output('asked', asked, '0.01 Nm');
  b.output('torque', torque, '0.01 Nm');
  return b.finish();
}
