/** Builds a one-off program and drives it, for tests of blocks. */
import { ProgramBuilder } from '../../src/logic/builder.ts';
import type { NodeId, Program } from '../../src/logic/form.ts';
import { initialState, interpret } from '../../src/logic/interpret.ts';

export function program(build: (b: ProgramBuilder) => Record<string, NodeId>): Program {
  const b = new ProgramBuilder('trial', 'A trial.');
  for (const [name, node] of Object.entries(build(b))) b.output(name, node);
  return b.finish();
}

/** Output `name` at each step of a run from the initial state; inputs by name, one series each. */
export function series(p: Program, name: string, inputs: Record<string, readonly number[]>): number[] {
  const length = Math.max(...Object.values(inputs).map((list) => list.length));
  const at = p.outputs.findIndex((o) => o.name === name);
  let state = initialState(p);
  return Array.from({ length }, (_, step) => {
    const now = p.inputs.map((i) => inputs[i.name]?.[step] ?? 0);
    const { outputs, next } = interpret(p, state, now);
    state = next;
    return outputs[at] as number;
  });
}

/** A node without memory, over values of its one input. */
export function drive(build: (b: ProgramBuilder) => NodeId, values: readonly number[]): number[] {
  const p = program((b) => ({ value: build(b) }));
  return values.map((x) => interpret(p, [], [x]).outputs[0] as number);
}
