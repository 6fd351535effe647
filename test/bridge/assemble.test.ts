import { expect, test } from 'vitest';
import { assembleGateway } from '../../src/bridge/assemble.ts';
import { BridgeError } from '../../src/bridge/problem.ts';
import { releasedGateway } from '../../src/bridge/released.ts';
import { writeStages } from '../../src/bridge/writes.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import { dictionaries, guardPlan, parts } from './fixture.ts';

function guarded() {
  return assembleGateway({ ...parts(), guards: [bindGuard(guardPlan(), dictionaries(), 10).stage] });
}

test('stages stand in the order read, route, guard, order, write, and read only what stands before them', () => {
  const gateway = guarded();
  expect(gateway.stages.map((s) => s.role)).toEqual([
    'read',
    'read',
    'read',
    'read',
    'route',
    'route',
    'route',
    'guard',
    'order',
    'write',
    'write',
    'write',
    'write',
  ]);
  gateway.stages.forEach((stage, i) => {
    for (const source of stage.sources) if (source.from === 'stage') expect(source.stage).toBeLessThan(i);
  });
});

test('a message that several lines read has one program, and every message sent has one', () => {
  const gateway = guarded();
  expect(gateway.rx.map((rx) => rx.name)).toEqual([
    'van_speed',
    'van_wheel_angle_dunlin',
    'plover_torque',
    'control_command',
  ]);
  expect(gateway.stages[0]?.program.outputs.map((o) => o.name)).toEqual([
    'valid',
    'age',
    'age_speed_raw',
    'speed_raw',
    'speed',
  ]);
  expect(writeStages(gateway).map(({ program, message }) => [program.name, message.id])).toEqual([
    ['write_plover_van_speed', 0x120],
    ['write_control_van_state', 0x18ff2055],
    ['write_van_display', 0x3a0],
    ['write_plover_order', 0x0e4],
  ]);
});

test('the same plans give the same gateway, word for word', () => {
  expect(JSON.stringify(guarded())).toBe(JSON.stringify(guarded()));
});

test('a guard whose age covers two messages gets the age of the older one', () => {
  const plan = guardPlan();
  plan.handover.request = { bus: 'van', message: 'Speed', signal: 'Reverse' };
  const gateway = assembleGateway({ ...parts(), guards: [bindGuard(plan, dictionaries(), 10).stage] });
  const oldest = gateway.stages.find((s) => s.program.name === 'oldest_for_guard_command_age');
  expect(oldest?.program.inputs).toHaveLength(2);
  expect(oldest?.sources.map((s) => s.from === 'stage' && gateway.stages[s.stage]?.program.name)).toEqual([
    'read_control_command',
    'read_van_speed',
  ]);
});

test('the bench form holds every actuator output of the guard released, whoever reads it', () => {
  const gateway = guarded();
  const bench = releasedGateway(gateway);
  const order = bench.stages.find((s) => s.role === 'order');
  expect(order?.sources).toEqual([
    { from: 'fixed', value: 0 },
    { from: 'fixed', value: 0 },
  ]);
  expect(bench.stages.filter((s) => s.role !== 'order')).toEqual(
    gateway.stages.filter((s) => s.role !== 'order'),
  );
});

test('plans that cannot be carried out are refused with file, place, what was found and what would be right', () => {
  const p = parts();
  p.bridge!.routes[1]!.to.message = 'Status';
  expect(() => assembleGateway(p)).toThrow(BridgeError);
  expect(() => assembleGateway(p)).toThrow(
    'bridge.yaml, routes[1].to.message: found message "Status"; right would be a message of bus control: Command, Van state',
  );
});

test('a gateway without plans does nothing and is whole', () => {
  const gateway = assembleGateway({ ...parts(), bridge: null });
  expect([gateway.rx, gateway.stages, gateway.tx]).toEqual([[], [], []]);
});
