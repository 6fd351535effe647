import { describe, expect, test } from 'vitest';
import { guardFigures } from '../../src/guard/figures.ts';
import { guardInputs } from '../../src/guard/inputs.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { checkProgram } from '../../src/logic/check.ts';
import { Drive } from './drive.ts';
import { samplePlan } from './plan.ts';

const figures = guardFigures(samplePlan(), 10);
const program = guardProgram(figures);
const torque = figures.torque!;

test('the program is one that every reader may trust, and its inputs are those that the bridge is told of', () => {
  expect(checkProgram(program)).toEqual([]);
  expect(program.inputs.map((i) => i.name)).toEqual([...guardInputs(figures).keys()]);
  for (const input of program.inputs) {
    const { lo, hi } = guardInputs(figures).get(input.name)!;
    expect([input.lo, input.hi], input.name).toEqual([lo, hi]);
  }
});

describe('handing over', () => {
  test('idle at first, ready after the conditions have held for the hold time, armed by a press', () => {
    const drive = new Drive(program, figures);
    expect(drive.run(figures.armHoldSteps).mode).toBe('idle');
    expect(drive.run(1).mode).toBe('ready');
    expect(drive.run(figures.buttonDownSteps - 1, { arm_input: 1 }).mode).toBe('ready');
    expect(drive.run(1, { arm_input: 1 })).toEqual({ order: 0, active: true, mode: 'armed', cause: 'none' });
  });

  test('the order starts at the measured angle and follows the command within the slew', () => {
    const drive = new Drive(program, figures);
    const at = { steering_measured: 300, steering_command: 340 };
    expect(drive.arm(at).order).toBe(300);
    expect(drive.run(1, { steering_measured: 300, steering_command: 2000 }).order).toBe(300 + 64);
    expect(drive.run(100, { steering_measured: 300, steering_command: 9000 }).order).toBe(2000);
  });

  test('a button held from the start, or pressed before the guard is ready, does not arm', () => {
    const stuck = new Drive(program, figures);
    expect(stuck.run(1000, { arm_input: 1 }).mode).toBe('ready');
    const early = new Drive(program, figures);
    early.run(20);
    expect(early.run(1000, { arm_input: 1 }).mode).toBe('ready');
  });

  test.each([
    ['no request', { request: 0 }],
    ['an old command', { command_age: 7 }],
    ['an old speed', { speed_age: 7 }],
    ['an old angle', { steering_measured_age: 7 }],
    ['an old torque', { torque_age: 7 }],
    ['a command 5° from the measured angle', { steering_command: 500 }],
    ['a measured angle beyond the level', { steering_measured: 2001, steering_command: 2001 }],
    ['a hand on the wheel', { driver_torque: -300 }],
    ['a speed above the highest', { speed: 2001 }],
    ['the stop input', { stop_input: 1 }],
  ])('%s keeps the guard from arming', (_, wrong) => {
    const drive = new Drive(program, figures);
    drive.run(400, wrong);
    expect(drive.run(5, { ...wrong, arm_input: 1 }).mode).not.toBe('armed');
    expect(['idle', 'tripped']).toContain(drive.run(1, wrong).mode);
  });

  test('uneven steps keep the guard from arming', () => {
    const drive = new Drive(program, figures);
    for (let i = 0; i < 200; i++) drive.run(1, {}, i % 30 === 0 ? 13 : 10);
    expect(drive.run(5, { arm_input: 1 }).mode).toBe('idle');
  });
});

describe('letting go', () => {
  const far = { steering_command: 2000 };

  test.each([
    ['stop input', { stop_input: 1 }, 'tripped'],
    ['command lost', { command_age: 7 }, 'tripped'],
    ['speed lost', { speed_age: 7 }, 'tripped'],
    ['measured steering lost', { steering_measured_age: 7 }, 'tripped'],
    ['torque lost', { torque_age: 7 }, 'tripped'],
    ['speed outside its range', { speed: 2001 }, 'tripped'],
    ['request withdrawn', { request: 0 }, 'releasing'],
    ['driver override', { driver_torque: 300 }, 'releasing'],
  ] as const)('%s: zero within the release time, in even steps', (cause, wrong, mode) => {
    const drive = new Drive(program, figures);
    drive.arm();
    let before = drive.run(100, far).order;
    expect(before).toBe(2000);
    let shown = drive.run(cause === 'driver override' ? torque.steps : 1, { ...far, ...wrong });
    expect(shown).toMatchObject({ mode, cause, active: true });
    let steps = 1;
    for (; shown.order !== 0; steps++) {
      expect(before - shown.order).toBeLessThanOrEqual(Math.ceil((1.5 * 2000) / figures.releaseSteps));
      before = shown.order;
      shown = drive.run(1, { ...far, ...wrong });
    }
    expect(steps).toBeLessThanOrEqual(figures.releaseSteps);
    expect(shown.active).toBe(false);
    expect(steps * figures.spacingMaxMs).toBeLessThanOrEqual(1000);
  });

  test('a step that comes too late or too early trips', () => {
    for (const spacing of [7, 13, 0, 5000]) {
      const drive = new Drive(program, figures);
      drive.arm();
      expect(drive.run(1, {}, spacing), `${spacing} ms`).toMatchObject({
        mode: 'tripped',
        cause: 'step spacing',
      });
    }
  });

  test('the wrap of the millisecond clock is a step like any other', () => {
    const drive = new Drive(program, figures, 2 ** 32 - 4055);
    expect(drive.arm().mode).toBe('armed');
    expect(drive.clock).toBeGreaterThan(2 ** 32 - 100);
    expect(drive.run(50).mode).toBe('armed');
    expect(drive.clock).toBeLessThan(1000);
  });

  test('a trip stays until a press acknowledges it, and a second press is needed to arm again', () => {
    const drive = new Drive(program, figures);
    drive.arm();
    drive.run(1, { stop_input: 1 });
    expect(drive.run(500)).toMatchObject({ mode: 'tripped', cause: 'stop input', order: 0 });
    expect(drive.run(5, { arm_input: 1 })).toMatchObject({ mode: 'idle', cause: 'none' });
    expect(drive.run(500, { arm_input: 1 }).mode).toBe('ready');
    drive.run(20);
    expect(drive.run(5, { arm_input: 1 }).mode).toBe('armed');
  });

  test('a press before the order is back at zero acknowledges nothing', () => {
    const drive = new Drive(program, figures);
    drive.arm();
    drive.run(100, far);
    drive.run(1, { ...far, command_age: 1023 });
    drive.run(10, { ...far, command_age: 1023 });
    expect(drive.run(20, { ...far, command_age: 1023, arm_input: 1 })).toMatchObject({ mode: 'tripped' });
    expect(drive.run(500).mode).toBe('tripped');
  });

  test('torque that lasts shorter than the override time does not take over', () => {
    const drive = new Drive(program, figures);
    drive.arm();
    expect(drive.run(torque.steps - 1, { driver_torque: 5000 }).mode).toBe('armed');
    expect(drive.run(1).mode).toBe('armed');
  });

  test('a speed that rises as no van does trips before the level of the old speed is used for long', () => {
    const drive = new Drive(program, figures);
    drive.arm({ speed: 500 });
    expect(drive.run(1, { speed: 500 + 100 + 5 })).toMatchObject({
      mode: 'tripped',
      cause: 'speed outside its range',
    });
  });
});

test('a faster gateway counts the same times in more steps', () => {
  const fast = guardFigures(samplePlan(), 5);
  expect(fast.releaseSteps * fast.spacingMaxMs).toBeLessThanOrEqual(1000);
  expect(fast.releaseSteps).toBeGreaterThan(1.9 * figures.releaseSteps);
  expect(fast.channels[0]!.slew[0]![1]).toBe(48);
});
