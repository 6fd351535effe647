import { expect, test } from 'vitest';
import { type RoutePlan, routeProgram } from '../../src/bridge/route.ts';
import { compile } from '../../src/logic/run.ts';
import { messageOf } from './fixture.ts';

const speed = messageOf('plover', 'Van speed').signals[0]!;

function plan(change: Partial<RoutePlan>, onLoss: 'hold' | number = 'hold'): RoutePlan {
  return {
    name: 'route',
    note: '',
    sources: [{ input: 'v', type: 'int', lo: -20_000, hi: 60_000, note: '', age: 'v_age' }],
    lines: [
      {
        to: speed,
        output: 'speed_raw',
        value: { from: 'source', input: 'v', factor: 0.01, offset: 0, onLoss, rounding: 'nearest' },
      },
    ],
    periodSteps: 1,
    lostSteps: 5,
    onLoss: 'stop',
    ...change,
  };
}

/** Steps of [age, value] to [trigger, raw]. */
function run(p: RoutePlan, steps: [number, number][]): [number, number][] {
  const program = routeProgram(p);
  const compiled = compile(program);
  const state = compiled.initial();
  const outputs = new Float64Array(program.outputs.length);
  const at = (name: string) => outputs[program.outputs.findIndex((o) => o.name === name)] as number;
  return steps.map(([age, value]) => {
    compiled.step(state, Float64Array.from([age, value]), outputs);
    return [at('trigger'), at('speed_raw')];
  });
}

test('a value is turned into the raw value of the target: nearest, and kept within what its bits hold', () => {
  const raw = run(plan({}), [
    [0, 0],
    [0, 1000],
    [0, 3],
    [0, 4],
    [0, -500],
    [0, 60_000],
  ]).map(([, r]) => r);
  // 10 km/h in steps of 0.0625 km/h is 160; 0.03 is 0.48 and 0.04 is 0.64 of a step; 600 km/h does not fit 13 bits.
  expect(raw).toEqual([0, 160, 0, 1, 0, 8191]);
});

test('a message goes out in the first step and then every period', () => {
  const triggers = run(
    plan({ periodSteps: 3 }),
    Array.from({ length: 8 }, () => [0, 0]),
  ).map(([t]) => t);
  expect(triggers).toEqual([1, 0, 0, 1, 0, 0, 1, 0]);
});

test('a route that stops on loss sends nothing while its source is too old, and goes on at once when it is back', () => {
  const ages: [number, number][] = [1023, 0, 4, 5, 6, 0].map((age) => [age, 0]);
  expect(run(plan({}), ages).map(([t]) => t)).toEqual([0, 1, 1, 0, 0, 1]);
});

test('a route that goes on sends its substitute value while the source is lost', () => {
  const steps: [number, number][] = [
    [1023, 0],
    [0, 1000],
    [5, 1000],
    [0, 1000],
  ];
  expect(run(plan({ onLoss: 'send' }, 50), steps)).toEqual([
    [1, 800],
    [1, 160],
    [1, 800],
    [1, 160],
  ]);
});

test('a route that holds values sends nothing before it has received one', () => {
  const steps: [number, number][] = [
    [1023, 0],
    [1023, 0],
    [0, 1000],
    [900, 1000],
  ];
  expect(run(plan({ onLoss: 'send' }), steps).map(([t]) => t)).toEqual([0, 0, 1, 1]);
});

test('a message of constants is sent without any source', () => {
  const state = messageOf('plover', 'Van speed').signals[1]!;
  const program = routeProgram(
    plan({
      sources: [],
      lines: [{ to: state, output: 'state_raw', value: { from: 'constant', physical: 5 } }],
    }),
  );
  const compiled = compile(program);
  const outputs = new Float64Array(2);
  compiled.step(compiled.initial(), new Float64Array(0), outputs);
  expect([...outputs]).toEqual([5, 1]);
});

test('an order is cut off towards zero and a truth value becomes 0 or 1', () => {
  const [angle, active] = messageOf('plover', 'Order').signals as [typeof speed, typeof speed];
  const value = (input: string, factor: number) =>
    ({ from: 'source', input, factor, offset: 0, onLoss: 'hold', rounding: 'towards zero' }) as const;
  const program = routeProgram({
    ...plan({}),
    sources: [
      { input: 'order', type: 'int', lo: -30_000, hi: 30_000, note: '', age: null },
      { input: 'on', type: 'bool', lo: 0, hi: 1, note: '', age: null },
    ],
    lines: [
      { to: angle, output: 'angle_raw', value: value('order', 0.01) },
      { to: active, output: 'active_raw', value: value('on', 1) },
    ],
  });
  const compiled = compile(program);
  const outputs = new Float64Array(3);
  const got = [
    [1999, 1],
    [-1999, 0],
    [9, 1],
    [30_000, 1],
  ].map((inputs) => {
    compiled.step(compiled.initial(), Float64Array.from(inputs), outputs);
    return [...outputs];
  });
  expect(got).toEqual([
    [199, 1, 1],
    [-199, 0, 1],
    [0, 1, 1],
    [3000, 1, 1],
  ]);
});
