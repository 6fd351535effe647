/** The radio remote: never together with the controller, and only with less than it. */
import type { NodeId } from '../../logic/form.ts';
import type { ChannelFigures, GuardFigures } from '../figures.ts';
import { names } from '../inputs.ts';
import type { Inputs } from '../program/inputs.ts';
import type { Obligation, Watch } from './watch.ts';
import { amount } from './words.ts';

export function remote(w: Watch): Obligation[] {
  const { b, f, input } = w;
  if (f.remote === null || w.remote === null) return [];
  const { speedMax } = f.remote;
  const most = w.channels.map(({ c }) => c.remote?.level ?? 0);
  return [
    {
      name: 'remote.less',
      sentence: `While the remote commands, no order exceeds the remote's own level: ${w.channels.map(({ c }, i) => `${c.key} ${amount(most[i] as number, c)}`).join(', ')}.`,
      when: b.and(w.remote, w.nowIs('armed')),
      must: w.channels
        .map(({ now }, i) => b.le(b.abs(now.order), b.const(most[i] as number)))
        .reduce((x, y) => b.and(x, y)),
    },
    {
      name: 'remote.slow',
      sentence: `Armed by the remote, the guard stays armed only up to ${speedMax / 100} m/s.`,
      when: b.and(w.remote, w.nowIs('armed')),
      must: b.le(input('speed'), b.const(speedMax)),
    },
    {
      name: 'remote.linked',
      sentence:
        'Armed by the remote, the guard stays armed only while the radio link stands and the switch is on.',
      when: b.and(w.remote, w.nowIs('armed')),
      must: b.and(
        input('remote_link'),
        b.le(input('remote_age'), b.const(f.remote.ageSteps)),
        input('remote_selected'),
      ),
    },
    {
      name: 'remote.apart',
      sentence: 'Armed by the controller, the guard stays armed only while the remote is not selected.',
      when: b.and(b.not(w.remote), w.nowIs('armed')),
      must: b.not(input('remote_selected')),
    },
  ];
}

/** The command that an order follows, in the observer's own reading. */
export function commandFor(
  b: Watch['b'],
  f: GuardFigures,
  c: ChannelFigures,
  input: Inputs,
  remoteCommands: NodeId | null,
): NodeId {
  const controller = input(names(c.key).command);
  if (f.remote === null || remoteCommands === null) return controller;
  return b.select(remoteCommands, c.remote ? input(names(c.key).remote) : b.const(0), controller);
}
