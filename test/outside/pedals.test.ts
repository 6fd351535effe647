/**
 * Plausibility of pedals as a state machine: rules of Formula SAE (2024 numbering, T.4.2 and EV.4.7) and the limits that
 * six workshop manuals give for code P2138 (makers withheld), run against the guard with its comparison of two tracks.
 */
import { describe, expect, test } from 'vitest';
import { type GuardFigures, guardFigures } from '../../src/guard/figures.ts';
import type { GuardPlan } from '../../src/guard/model.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { Drive } from '../guard/drive.ts';
import { fullPlan } from '../guard/plan.ts';

const signal = (name: string) => ({ bus: 'van', message: 'Pedals', signal: name });

/** A guard that compares two tracks of a pedal, and nothing else of what the full plan compares. */
function comparing(
  unit: '%' | 'V',
  differBy: number,
  forMs: number,
): { drive: Drive; figures: GuardFigures } {
  const plan: GuardPlan = fullPlan();
  plan.handover.agreement = [
    { name: 'tracks', first: signal('Track 1'), second: signal('Track 2'), unit, differBy, forMs },
  ];
  const figures = guardFigures(plan, 10);
  return { drive: new Drive(guardProgram(figures), figures), figures };
}

const calm = { supply: 13_000, drive_command: 10_000, pair_tracks_first: 5000, pair_tracks_second: 5000 };
/** The tracks this many counts apart. */
const apart = (by: number) => ({ ...calm, pair_tracks_second: 5000 + by });

describe('Formula SAE', () => {
  test('a difference of more than 10 % of travel that lasts 100 ms takes all drive away; 10 % does not', () => {
    // Formula SAE T.4.2.4 (more than 10 % is implausible) and T.4.2.5 (longer than 100 ms: power fully off).
    const { drive } = comparing('%', 10, 100);
    expect(drive.arm(calm).mode).toBe('armed');
    drive.run(100, calm);
    expect(drive.value('drive_order')).toBeGreaterThan(2000);
    expect(drive.run(100, apart(1000)).mode).toBe('armed');
    expect(drive.run(100, apart(-1000)).mode).toBe('armed');
    for (const by of [1001, -1001]) {
      const { drive } = comparing('%', 10, 100);
      drive.arm(calm);
      drive.run(100, calm);
      drive.run(10, apart(by));
      expect(drive.run(1, apart(by)).mode).toBe('tripped');
      expect(drive.value('drive_order')).toBe(0);
      expect([drive.value('drive_track_1'), drive.value('drive_track_2')]).toEqual([750, 375]);
    }
  });

  test('a shorter difference is forgiven, however large', () => {
    // T.4.2.5, the other way round: 70 ms.
    const { drive } = comparing('%', 10, 100);
    drive.arm(calm);
    for (let i = 0; i < 5; i++) {
      expect(drive.run(7, apart(4000)).mode).toBe('armed');
      expect(drive.run(1, calm).mode).toBe('armed');
    }
  });

  test('brakes applied with the accelerator above 25 %: power off, and no power again below 5 % by itself', () => {
    // EV.4.7.1 and .2: the rule gives power back once the accelerator is below 5 %; the guard only after a press of the button.
    const { drive } = comparing('%', 10, 100);
    drive.arm(calm);
    drive.run(150, calm);
    expect(drive.value('drive_order')).toBeGreaterThan(2500);
    const pressed = drive.run(2, { ...calm, act_brake_pedal: 1 });
    expect(pressed.mode).not.toBe('armed');
    expect(drive.value('drive_order')).toBe(0);
    for (const command of [10_000, 2600, 499, 0, 3000]) {
      drive.run(50, { ...calm, drive_command: command });
      expect(drive.value('drive_order')).toBe(0);
    }
  });

  test('the guard itself never orders drive and braking together', () => {
    // EV.4.7.1, for what the controller asks.
    const { drive } = comparing('%', 10, 100);
    drive.arm(calm);
    drive.run(150, calm);
    expect(drive.value('drive_order')).toBeGreaterThan(2500);
    for (let step = 0; step < 60; step++) {
      drive.run(1, { ...calm, braking_command: 1000 });
      expect(drive.value('braking_order')).toBeGreaterThan(0);
      expect(drive.value('drive_order')).toBe(0);
    }
  });
});

describe('workshop manuals, code P2138: the second track held against half of the first', () => {
  // Manual, band in V about the line (least and most where it depends on the position), time in ms.
  const manuals = [
    ['A', 0.27, 140], // out of correlation by more than 0.27–0.99 V for > 140 ms
    ['A, far end', 0.99, 140],
    ['B', 0.094, 240], // |A/2 − B| > 0.094–0.134 V for ≥ 0.24 s
    ['B, far end', 0.134, 240],
    ['C', 0.185, 300], // B outside 0 … 0.37 V at A = 0.37 V, ≥ 300 ms
    ['D', 0.181, 300], // B outside 0 … 0.361 V at A = 0.361 V, ≥ 0.3 s
  ] as const;

  test.each(manuals)('manual %s: at %f V nothing, beyond it a trip within %i ms', (_, volts, forMs) => {
    const edge = Math.round(volts * 1000);
    for (const side of [1, -1]) {
      const { drive } = comparing('V', volts, forMs);
      drive.arm(calm);
      expect(drive.run(300, apart(side * edge)).mode).toBe('armed');
      drive.run(1, calm);
      let steps = 0;
      let mode = 'armed';
      while (mode === 'armed' && steps < 100) {
        mode = drive.run(1, apart(side * (edge + 1))).mode;
        steps++;
      }
      expect(mode).toBe('tripped');
      // Whatever the spacing of steps, at most 12 ms, the time is kept; and no more than a fifth of it is lost.
      expect(steps * 12).toBeLessThanOrEqual(forMs);
      expect((steps + 1) * 12).toBeGreaterThan(forMs);
    }
  });

  test('manual E: tracks of half slope that differ by more than 4.5 % for a set count', () => {
    const { drive } = comparing('%', 4.5, 120);
    drive.arm(calm);
    expect(drive.run(300, apart(450)).mode).toBe('armed');
    expect(drive.run(10, apart(451)).mode).toBe('tripped');
  });

  test('manual F: a wrong ratio for 0.35 s, above 1.0 V of the first track', () => {
    // The ratio as a line: at A = 1.0 V half of it is 0.5 V, and the check begins where B is above 0.55 V: 0.05 V apart.
    const { drive } = comparing('V', 0.05, 350);
    drive.arm(calm);
    expect(drive.run(300, apart(50)).mode).toBe('armed');
    expect(drive.run(28, apart(51)).mode).toBe('armed');
    expect(drive.run(1, apart(51)).mode).toBe('tripped');
  });
});
