import { describe, expect, test } from 'vitest';
import { guardFigures } from '../../src/guard/figures.ts';
import { join } from '../../src/guard/join.ts';
import { guardObserver, specFigures } from '../../src/guard/obligations/index.ts';
import { guardProgram } from '../../src/guard/program/guard.ts';
import { guardSubject } from '../../src/guard/proof/subject.ts';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { checkProgram } from '../../src/logic/check.ts';
import { LogicError } from '../../src/logic/error.ts';
import { fullPlan } from './plan.ts';

const figures = specFigures(fullPlan(), 10);

describe('what is proved is what is flashed', () => {
  const guard = guardProgram(guardFigures(fullPlan(), 10));
  const subject = guardSubject(guard, figures);

  test('the proved program begins with the guard, node for node and state for state', () => {
    expect(subject.program.nodes.slice(0, guard.nodes.length)).toEqual(guard.nodes);
    expect(subject.program.states.slice(0, guard.states.length)).toEqual(guard.states);
    expect(subject.program.inputs).toEqual(guard.inputs);
    expect(subject.program.outputs.slice(0, guard.outputs.length)).toEqual(guard.outputs);
    expect(checkProgram(subject.program)).toEqual([]);
  });

  test('the observer sees inputs and outputs of the guard and nothing else', () => {
    const seen = guardObserver(figures).program.inputs.map((i) => i.name);
    const known = [...guard.inputs, ...guard.outputs].map((i) => i.name);
    expect([...seen].sort()).toEqual([...known].sort());
  });

  test('names of obligations are unique and every sentence is one', () => {
    const names = subject.claims.map((c) => c.name);
    expect(new Set(names).size).toBe(names.length);
    for (const { sentence } of subject.claims) expect(sentence).toMatch(/^[A-Z].*\.$/s);
  });
});

describe('joining', () => {
  const base = () => {
    const b = new ProgramBuilder('base', '');
    const a = b.input('a', 0, 9);
    const s = b.state('s', 0, 9, 3);
    b.next(s, a);
    b.output('sum', b.add(a, s));
    return b.finish();
  };
  const reader = (name: string, lo: number, hi: number) => {
    const b = new ProgramBuilder('reader', '');
    b.output('doubled', b.mulk(b.input(name, lo, hi), 2));
    return b.finish();
  };

  test('an input of the added program reads the output, input or state of its name, with its interval', () => {
    const joined = join(base(), reader('sum', 0, 50), 'inputsAndOutputs');
    const double = joined.nodes[joined.outputs[1]!.node]!;
    expect([double.lo, double.hi]).toEqual([0, 36]);
    expect(join(base(), reader('s', 0, 9), 'states').outputs).toHaveLength(2);
  });

  test.each([
    [
      'a name that is not there',
      () => join(base(), reader('b', 0, 9), 'inputsAndOutputs'),
      'nothing named b',
    ],
    [
      'a state where outputs are read',
      () => join(base(), reader('s', 0, 9), 'inputsAndOutputs'),
      'nothing named s',
    ],
    [
      'a value beyond what is read',
      () => join(base(), reader('sum', 0, 10), 'inputsAndOutputs'),
      'reads sum as 0 … 10',
    ],
    ['a second state of a name', () => join(base(), base(), 'inputsAndOutputs'), 'both have'],
  ])('%s is refused with a sentence', (_, attempt, words) => {
    expect(attempt).toThrow(LogicError);
    expect(attempt).toThrow(words);
  });
});
