import fc from 'fast-check';
import { expect, test } from 'vitest';
import { ProgramBuilder } from '../../src/logic/builder.ts';
import { cSource, emitC } from '../../src/logic/emit-c.ts';
import { initialState, interpret } from '../../src/logic/interpret.ts';
import { type CStep, compileC, numbered, SANITISED, STRICT, withoutGcc } from './compiler.ts';
import { steeringLimiter } from './example.ts';
import { drawInputs, drawState, programs, random } from './programs.ts';

const SEED = 20261125;

test.skipIf(withoutGcc).each([
  ['optimised', [...STRICT, '-O2'], 60],
  ['with address and undefined-behaviour checks', SANITISED, 25],
])(
  'generated C compiles without a warning and agrees with the interpreter bit for bit, %s',
  (_, flags, count) => {
    console.log(`seed ${SEED}`);
    const list = [...numbered(fc.sample(programs, { seed: SEED, numRuns: count })), steeringLimiter()];
    const file = compileC(list, flags);
    expect(file.initial()).toEqual(list.map((p) => [...initialState(p)]));
    const below = random(SEED);
    const steps: CStep[] = [];
    const expected: number[][] = [];
    list.forEach((program, k) => {
      let state = initialState(program);
      for (let step = 0; step < 60; step++) {
        if (step % 4 === 3) state = drawState(program, below);
        const inputs = drawInputs(program, below, state);
        const { outputs, next } = interpret(program, state, inputs);
        steps.push({ program: k, state, inputs });
        expected.push([...outputs, ...next]);
        state = next;
      }
    });
    expect(file.steps(steps)).toEqual(expected);
    file.remove();
  },
);

/** Awkward on purpose: states that swap, names of parameters and of helpers, comment ends in notes, tables of one name. */
function awkward() {
  const b = new ProgramBuilder('awkward', 'Ends a comment */ and opens one /* in its note ??/');
  const x = b.input('in', -9, 9, `a note with */ in it, ${'long enough for several lines, '.repeat(6)}`);
  const [p, q] = [b.state('state', -9, 9, 3), b.state('out', -9, 9, -4)];
  b.next(p, q);
  b.next(q, p);
  const r = b.state('shifted', -100, 100, 0);
  b.next(r, b.clamp(b.add(p, b.mulk(q, 3)), b.const(-100), b.const(100)));
  const size = b.abs(x);
  const [one, two] = [
    [
      [0, 5],
      [9, 1],
    ],
    [
      [0, 1],
      [9, 5],
    ],
  ] as const;
  b.output('first', b.table(size, 'curve', one));
  b.output('second', b.table(size, 'curve', two));
  b.output('awkward', b.named('step', b.add(x, b.named('in', b.const(4)))));
  b.output('least', b.min(b.sub(x, b.sub(p, q)), b.sub(b.const(0), x)));
  return b.finish();
}

function silent() {
  return new ProgramBuilder('silent', 'Nothing in, nothing kept, nothing out.').finish();
}

function constant() {
  const b = new ProgramBuilder('constant', 'Gives one number.');
  b.output('answer', b.named('answer', b.const(-7), 'a number'));
  b.output('yes', b.bool(true));
  return b.finish();
}

test.skipIf(withoutGcc)(
  'states that swap, clashing names, comment marks in notes and empty programs come out right',
  () => {
    const list = [awkward(), silent(), constant()];
    const file = compileC(list, SANITISED);
    expect(file.initial()).toEqual([[3, -4, 0], [], []]);
    const inputs = [[-9], [], []];
    const states = [[3, -4, 0], [], []];
    const steps = list.map((_, program) => ({ program, state: states[program]!, inputs: inputs[program]! }));
    expect(file.steps(steps)).toEqual(
      list.map((program, i) => {
        const { outputs, next } = interpret(program, states[i]!, inputs[i]!);
        return [...outputs, ...next];
      }),
    );
    file.remove();
  },
);

test('generated C reads as a person would write it', () => {
  const { declarations, definitions } = emitC(steeringLimiter());
  expect(declarations).toContain('    int32_t hand_torque; /* 0.01 Nm; -1024 to 1023 */');
  expect(declarations).toContain('    uint32_t before_ms; /* clock at the last step */');
  for (const line of [
    '    const int32_t spacing = bw_elapsed(in->now_ms, state->before_ms, 1000); /* ms since the last step */',
    '    const bool late = spacing > 12;',
    '    const int32_t speed = (in->speed_raw * 56889 + 65536) / 131072; /* 0.01 m/s */',
    '    const bool driver_steers_next = driver_steers_differs_next >= 3 ? less : state->driver_steers;',
    '    state->count = state->count == 14 ? 0 : (state->count + 1) % 16;',
  ])
    expect(definitions.split('\n')).toContain(line);
  expect(definitions).not.toMatch(/float|double|malloc|>>|<</);
  expect(Math.max(...`${declarations}${definitions}`.split('\n').map((l) => l.length))).toBeLessThanOrEqual(
    110,
  );
});

test('a long note stands in lines of its own above its field', () => {
  const { declarations } = emitC(awkward());
  expect(Math.max(...declarations.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100);
  expect(declarations).toMatch(/lines, long\n {7}enough .* -9 to 9 \*\/\n {4}int32_t in;/s);
});

test('a helper stands once in a file, however many programs call it', () => {
  const text = cSource(numbered([steeringLimiter(), steeringLimiter()]));
  expect(text.match(/static int32_t bw_clamp\(/g)).toHaveLength(1);
  expect(text.match(/bw_crc8_1d_table\[256\] =/g)).toHaveLength(1);
  expect(text).not.toContain('bw_max');
});
