import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { assembleGateway } from '../../src/bridge/assemble.ts';
import { writeObserver } from '../../src/bridge/writeObserver.ts';
import { type WriteStage, writeStages } from '../../src/bridge/writes.ts';
import { bindGuard } from '../../src/guard/binding.ts';
import { join } from '../../src/guard/join.ts';
import { smtSteps } from '../../src/logic/emit-smt.ts';
import type { Program } from '../../src/logic/form.ts';
import { outputIndex } from '../../src/logic/graph.ts';
import { openSolver, type Solver } from '../../src/logic/solver.ts';
import { dictionaries, guardPlan, parts } from './fixture.ts';

const gateway = assembleGateway({
  ...parts(),
  guards: [bindGuard(guardPlan(), dictionaries(), 10).stage],
});

let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

/** What is not proved, by induction over one step with the obligation itself as hypothesis; empty: all is proved. */
async function unproved(stage: WriteStage): Promise<string[]> {
  const observer = writeObserver(stage);
  const program = join(stage.program, observer.program, 'inputsAndOutputs');
  const left: string[] = [];
  const holds = async (name: string, text: string) => {
    const { verdict } = await solver.check(text, { rlimit: 20_000_000 });
    if (verdict !== 'unsat') left.push(`${name}: ${verdict}`);
  };
  const ranges = smtSteps(program, { steps: 1, start: 'any', roots: program.states.map((s) => s.next) });
  for (const [k, state] of program.states.entries())
    await holds(`range of ${state.name}`, `${ranges.text}\n(assert (not ${ranges.nextInRange(k)}))`);
  const pairs = observer.obligations.map((o) => [nodeOf(program, o.when), nodeOf(program, o.must)] as const);
  const [first, later] = [
    smtSteps(program, { steps: 1, start: 'initial', roots: pairs.flat() }),
    smtSteps(program, { steps: 2, start: 'any', roots: pairs.flat() }),
  ];
  const broken = (s: typeof first, [when, must]: readonly [number, number], step: number) =>
    `(and ${s.symbol(when, step)} (not ${s.symbol(must, step)}))`;
  // All obligations together are the hypothesis: what held in one step holds in the next.
  const hypothesis = pairs.map((pair) => `(assert (not ${broken(later, pair, 0)}))`).join('\n');
  for (const [i, { name }] of observer.obligations.entries()) {
    const pair = pairs[i] as readonly [number, number];
    await holds(`${name}, first step`, `${first.text}\n(assert ${broken(first, pair, 0)})`);
    await holds(`${name}, later steps`, `${later.text}\n${hypothesis}\n(assert ${broken(later, pair, 1)})`);
  }
  return left;
}

function nodeOf(program: Program, output: string): number {
  return program.outputs[outputIndex(program, output)]!.node;
}

describe('proved over all inputs and all times', () => {
  test.each(writeStages(gateway).map((stage) => [stage.message.name, stage] as const))(
    'everything sent as %s carries the next counter value and a right check field',
    async (name, stage) => {
      expect(writeObserver(stage).obligations.length).toBe(
        name === 'van_display' ? 0 : name === 'plover_order' ? 3 : 2,
      );
      expect(await unproved(stage)).toEqual([]);
    },
  );

  test.each([
    // The constant of counter value 4 in the check, and the counter value after which the circle begins again.
    ['check field', 91, 92, ['check, later steps: sat']],
    ['counter', 14, 13, ['counter, later steps: sat', 'counter_skip, later steps: sat']],
  ])('a write program with a wrong constant in its %s is not proved', async (_, right, wrong, expected) => {
    const stage = writeStages(gateway).find((s) => s.message.name === 'plover_order')!;
    const program = structuredClone(stage.program);
    const node = program.nodes.find((n) => n.kind === 'const' && n.value === right)!;
    Object.assign(node, { value: wrong, lo: wrong, hi: wrong });
    expect(await unproved({ ...stage, program })).toEqual(expect.arrayContaining(expected));
  });
});
