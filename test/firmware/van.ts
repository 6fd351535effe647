/** The van's gateway of the bridge tests, with every byte of its messages in use, and one message without any protection. */
import { assembleGateway } from '../../src/bridge/assemble.ts';
import type { Gateway } from '../../src/bridge/gateway.ts';
import type { GatewayParts } from '../../src/bridge/plan.ts';
import type { Dictionary, Message, Signal } from '../../src/dictionary/model.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import type { GuardPlan } from '../../src/guard/model.ts';
import { dictionaries, guardPlan, parts } from '../bridge/fixture.ts';

export interface Van {
  gateway: Gateway;
  dictionaries: Dictionary[];
  guard: GuardPlan;
}

export function van(): Van {
  const list = dictionaries();
  const message = (bus: string, name: string) =>
    list.find((d) => d.bus === bus)!.messages.find((m) => m.name === name) as Message;
  const signal = (m: Message, name: string) => m.signals.find((s) => s.name === name) as Signal;
  signal(message('plover', 'Order'), 'Active').start = 40;
  Object.assign(signal(message('control', 'Van state'), 'Torque'), { start: 39, length: 16, scale: 0.002 });
  signal(message('control', 'Command'), 'Angle').scale = 0.01;
  const display = message('van', 'Display');
  display.signals.push({ ...(display.signals[0] as Signal), name: 'Temperature', start: 8 });
  const ambient: Message = {
    ...display,
    name: 'Ambient',
    id: 0x2f0,
    length: 3,
    periodMs: 50,
    signals: [
      {
        ...(display.signals[0] as Signal),
        name: 'Temperature',
        start: 3,
        length: 9,
        byteOrder: 'big',
        signed: true,
        scale: 0.5,
        max: 60,
      },
    ],
  };
  list[0]!.messages.push(ambient);
  const all: GatewayParts = { ...parts(), dictionaries: list };
  all.bridge!.routes[2]!.signals.push({
    to: 'Temperature',
    from: { bus: 'van', message: 'Ambient', signal: 'Temperature' },
    gain: 1,
    bias: 40,
    onLoss: 0,
  });
  // The message without protection is heard first: what is left of a step shows there.
  all.bridge!.routes.reverse();
  all.bridge!.routes[0]!.signals.reverse();
  const guard = guardPlan();
  all.guards = [bindGuard(guard, list, 10).stage];
  return { gateway: assembleGateway(all), dictionaries: list, guard };
}
