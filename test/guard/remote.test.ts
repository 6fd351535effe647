import { describe, expect, test } from 'vitest';
import { guardFigures } from '../../src/guard/figures.ts';
import type { GuardPlan } from '../../src/guard/model.ts';
import { specFigures } from '../../src/guard/obligations/index.ts';
import { guardPlanProblems } from '../../src/guard/problems/index.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { explore } from '../../src/guard/proof/explore.ts';
import { guardSubject } from '../../src/guard/proof/subject.ts';
import { checkProgram } from '../../src/logic/check.ts';
import { Drive } from './drive.ts';
import { remotePlan, sampleHost } from './plan.ts';

const figures = guardFigures(remotePlan(), 10);
const program = guardProgram(figures);
/** The remote selected, its link up, the car at a crawl, the supply in its band, the controller silent. */
const byRemote = {
  remote_selected: 1,
  remote_link: 1,
  request: 0,
  command_age: 1023,
  speed: 100,
  pair_wheel_speed_and_engine_speed_first: 100,
  pair_wheel_speed_and_engine_speed_second: 100,
  supply: 12_500,
};
const byController = {
  ...byRemote,
  remote_selected: 0,
  request: 1,
  command_age: 0,
  remote_age: 1023,
  remote_link: 0,
};

test('guard and specification read the remote alike, and the program is one that every reader may trust', () => {
  expect(specFigures(remotePlan(), 10)).toEqual(figures);
  expect(checkProgram(program)).toEqual([]);
});

describe('the remote in the place of the controller', () => {
  test('it arms without the controller, and its orders keep its share of the limits', () => {
    const drive = new Drive(program, figures);
    drive.run(800, byRemote);
    expect(drive.run(5, { ...byRemote, arm_input: 1 }).mode).toBe('armed');
    const shown = drive.run(300, { ...byRemote, steering_remote: 90_000, steering_command: -90_000 });
    expect(shown.mode).toBe('armed');
    // 20 % of the least level up to 2 m/s: 3.8 of 4 degrees at 2 m/s.
    expect(shown.order).toBe(Math.floor(0.2 * 380));
  });

  test.each([
    ['remote lost', { remote_link: 0 }],
    ['remote lost', { remote_age: 1023 }],
    ['remote too fast', { speed: 201 }],
    ['remote switched', { remote_selected: 0 }],
  ])('%s trips', (cause, wrong) => {
    const drive = new Drive(program, figures);
    drive.run(800, byRemote);
    drive.run(5, { ...byRemote, arm_input: 1 });
    expect(drive.run(1, { ...byRemote, ...wrong })).toMatchObject({ mode: 'tripped', cause });
  });

  test('selecting it while the controller commands trips, and its silence is no matter to the controller', () => {
    const drive = new Drive(program, figures);
    drive.run(800, byController);
    expect(drive.run(5, { ...byController, arm_input: 1 }).mode).toBe('armed');
    expect(drive.run(50, byController).mode).toBe('armed');
    expect(drive.run(1, { ...byController, remote_selected: 1 })).toMatchObject({
      mode: 'tripped',
      cause: 'remote switched',
    });
  });
});

test('no obligation of the guard with a remote is broken in 60 000 simulated steps, and the remote arms in them', async () => {
  const subject = guardSubject(program, figures);
  const { broken, met } = await explore(subject, { steps: 60_000, seed: 7 });
  expect(subject.claims.filter((_, i) => broken[i] !== null).map((c) => c.name)).toEqual([]);
  const seen = subject.claims.filter((_, i) => met[i]).map((c) => c.name);
  expect(seen).toEqual(expect.arrayContaining(['remote.less', 'remote.apart', 'leave.remote-lost']));
});

describe('a remote that is planned wrongly is refused', () => {
  const problems = (change: (plan: GuardPlan) => unknown) => {
    const plan = remotePlan();
    change(plan);
    return guardPlanProblems(plan, sampleHost(), []).filter((p) => p.path.startsWith('remote'));
  };
  test('a sound one has no problem', () => expect(problems(() => {})).toEqual([]));
  const wrong: [path: string, weight: string, change: (plan: GuardPlan) => unknown][] = [
    ['remote.drive', 'refuse', (p) => delete p.remote!.drive],
    ['remote.selected.name', 'refuse', (p) => Object.assign(p.remote!.selected, { name: 'stop' })],
    ['remote.selected.active', 'caution', (p) => Object.assign(p.remote!.selected, { active: 'low' })],
    ['remote.speed_max_mps', 'caution', (p) => Object.assign(p.remote!, { speedMaxMps: 4 })],
  ];
  test.each(wrong)('%s: %s', (path, weight, change) => {
    expect(problems(change).map((p) => [p.path, p.weight])).toEqual([[path, weight]]);
  });
});
