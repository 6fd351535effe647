import fc from 'fast-check';
import { expect, test } from 'vitest';
import { initialState, interpret } from '../../src/logic/interpret.ts';
import { compile } from '../../src/logic/run.ts';
import { drawInputs, programs, random } from './programs.ts';

const SEED = 20261125;

test('the compiled program and the interpreter agree bit for bit over programs of every kind of node', () => {
  console.log(`seed ${SEED}`);
  fc.assert(
    fc.property(programs, fc.nat(), (program, seed) => {
      const below = random(seed);
      const compiled = compile(program);
      const state = compiled.initial();
      const outputs = new Float64Array(program.outputs.length);
      let plain = initialState(program);
      for (let step = 0; step < 30; step++) {
        const inputs = drawInputs(program, below);
        const { values, next, outputs: expected } = interpret(program, plain, inputs);
        compiled.step(state, inputs, outputs);
        expect(outputs).toEqual(expected);
        expect(state).toEqual(next);
        program.nodes.forEach((n, id) => {
          expect(values[id]).toBeGreaterThanOrEqual(n.lo);
          expect(values[id]).toBeLessThanOrEqual(n.hi);
        });
        plain = next;
      }
    }),
    { seed: SEED, numRuns: 150 },
  );
});
