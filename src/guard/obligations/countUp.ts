/** A count of the observer's own. */
import { approach } from '../../logic/blocks.ts';
import type { ProgramBuilder } from '../../logic/builder.ts';
import type { NodeId } from '../../logic/form.ts';

/** True from the `steps`-th step in a row on in which `running` is. */
export function countUp(b: ProgramBuilder, name: string, running: NodeId, steps: number): NodeId {
  const before = b.state(name, 0, steps, 0);
  const more = approach(b, before, b.const(steps), b.const(1));
  const count = b.select(running, more, b.const(0));
  b.next(before, count);
  return b.not(b.lt(count, b.const(steps)));
}
