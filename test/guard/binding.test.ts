import { expect, test } from 'vitest';
import { bindGuard } from '../../src/guard/binding.ts';
import { guardInputs } from '../../src/guard/inputs.ts';
import { dictionaries, guardPlan } from '../bridge/fixture.ts';

test('every input of the guard is joined to a signal, an age, a pin or the clock', () => {
  const { stage, figures, problems } = bindGuard(guardPlan(), dictionaries(), 10);
  expect(problems).toEqual([]);
  expect(stage.program.inputs.map((i) => i.name)).toEqual([...guardInputs(figures).keys()]);
  for (const { name } of stage.program.inputs) expect(stage.inputs[name]).toBeDefined();
  expect(stage.inputs.command_age).toEqual({
    kind: 'age',
    signals: [
      { signal: guardPlan().steering.command, path: 'steering.command' },
      { signal: guardPlan().handover.request, path: 'handover.request' },
    ],
  });
});

test('signals come in the counts of the guard, and the order goes out in the unit of its signal', () => {
  const list = dictionaries();
  list[1]!.messages.find((m) => m.name === 'Order')!.signals[0]!.unit = 'rad';
  const { stage } = bindGuard(guardPlan(), list, 10);
  // km/h to m/s, and 0.01 degrees to radians.
  expect(stage.inputs.speed).toMatchObject({ perCount: 0.01, gain: 1 / 3.6, sign: 'dropped' });
  expect(stage.outputs[0]!.signals[0]?.factor).toBeCloseTo((0.01 * Math.PI) / 180, 12);
});

test('a signal of the guard in a unit that is no angle, speed or torque is a problem in guard.yaml', () => {
  const list = dictionaries();
  list[0]!.messages[0]!.signals[0]!.unit = 'bananas';
  list[1]!.messages[0]!.signals[0]!.unit = '';
  const { problems } = bindGuard(guardPlan(), list, 10);
  expect(problems.map((p) => `${p.file} ${p.path}: ${p.found} → ${p.expected}`)).toEqual([
    'guard.yaml handover.speed.signal: Speed is in "bananas" → a signal in one of m/s, mps, km/h, kmh, kph, mph',
    'guard.yaml handover.driver_torque.signal: Driver torque has no unit → a signal in one of N·m, Nm, N m, N*m, mN·m, mNm',
  ]);
});
