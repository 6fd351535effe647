/** Names in plans that must lead to a bus, a message and a signal. */
import type { MessageRef, SignalRef } from './model.ts';
import type { Lookup } from './plan.ts';
import { oneOf, type PlanProblem, refuse } from './problem.ts';

/** Problems of a reference to a message or signal, shared with other plans that name them. */
export function referenceProblems(ref: MessageRef | SignalRef, path: string, lookup: Lookup): PlanProblem[] {
  if (!lookup.bus(ref.bus))
    return [refuse(`${path}.bus`, `bus "${ref.bus}"`, oneOf('a bus of buses.yaml', lookup.busNames()))];
  const dictionary = lookup.dictionary(ref.bus);
  if (!dictionary) {
    const file = `dictionary/${ref.bus}.yaml`;
    return [refuse(`${path}.bus`, `bus "${ref.bus}" has no dictionary`, `a file ${file} with its messages`)];
  }
  const message = lookup.message(ref);
  if (!message) {
    const names = dictionary.messages.map((m) => m.name);
    return [
      refuse(`${path}.message`, `message "${ref.message}"`, oneOf(`a message of bus ${ref.bus}`, names)),
    ];
  }
  if (!('signal' in ref) || lookup.signal(ref)) return [];
  const names = message.signals.filter((s) => s.state !== 'rejected').map((s) => s.name);
  return [
    refuse(`${path}.signal`, `signal "${ref.signal}"`, oneOf(`a signal of message ${message.name}`, names)),
  ];
}
