/** The readers of a guard driven with the same steps: the fast run, the interpreter, the C and the solver's text. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { GuardFigures } from '../../src/guard/figures.ts';
import { seededRandom } from '../../src/guard/proof/random.ts';
import { scenario } from '../../src/guard/proof/scenario.ts';
import { cSource, cType } from '../../src/logic/emit-c.ts';
import type { Program } from '../../src/logic/form.ts';
import { outputIndex } from '../../src/logic/graph.ts';
import { interpret } from '../../src/logic/interpret.ts';
import { compile } from '../../src/logic/run.ts';
import type { Solver } from '../../src/logic/solver.ts';
import { agrees } from '../logic/readers.ts';

/** Steps in a row, and what the fast run made of them. */
export interface Stretch {
  steps: number;
  /** State before the first step. */
  start: Float64Array;
  /** Step by step. */
  inputs: Float64Array;
  outputs: Float64Array;
  /** States after each step. */
  states: Float64Array;
}

/** Stretches of directed scenarios of at least `steps` steps each, each scenario from switching on, without end. */
export function* stretches(program: Program, figures: GuardFigures, seed: number, steps: number) {
  const compiled = compile(program);
  const mode = outputIndex(program, 'mode');
  const width = [program.inputs.length, program.outputs.length, program.states.length] as const;
  for (let at = seed; ; ) {
    const stretch = {
      steps,
      start: compiled.initial(),
      inputs: new Float64Array(steps * width[0]),
      outputs: new Float64Array(steps * width[1]),
      states: new Float64Array(steps * width[2]),
    } satisfies Stretch;
    const state = compiled.initial();
    const outputs = new Float64Array(width[1]);
    const shown = { mode: 0 };
    let drive = scenario(figures, seededRandom(at++));
    let left = drive.steps;
    for (let k = 0; k < steps; k++) {
      if (left-- === 0) {
        drive = scenario(figures, seededRandom(at++));
        left = drive.steps - 1;
      }
      const inputs = stretch.inputs.subarray(k * width[0], (k + 1) * width[0]);
      drive.next(shown, inputs);
      // Every seventh step something is anywhere in its range.
      if (k % 7 === 0) {
        const random = seededRandom(at * 1009 + k);
        const i = random.below(width[0]);
        const { lo, hi } = program.inputs[i]!;
        inputs[i] = random.pick([lo, hi, lo + random.below(hi - lo + 1)]);
      }
      compiled.step(state, inputs, outputs);
      shown.mode = outputs[mode]!;
      stretch.outputs.set(outputs, k * width[1]);
      stretch.states.set(state, k * width[2]);
    }
    yield stretch as Stretch;
  }
}

/** The first step, from 0, at which the interpreter differs from the run; −1 where none does. */
export function interpreterDiffers(program: Program, s: Stretch): number {
  let state: ArrayLike<number> = s.start;
  const width = [program.inputs.length, program.outputs.length, program.states.length] as const;
  for (let k = 0; k < s.steps; k++) {
    const now = interpret(program, state, s.inputs.subarray(k * width[0], (k + 1) * width[0]));
    const same =
      program.outputs.every((_, i) => now.outputs[i] === s.outputs[k * width[1] + i]) &&
      program.states.every((_, i) => now.next[i] === s.states[k * width[2] + i]);
    if (!same) return k;
    state = now.next;
  }
  return -1;
}

/** Steps of the stretch (positions) that the solver's text computes otherwise. */
export async function solverDiffers(
  solver: Solver,
  program: Program,
  s: Stretch,
  at: readonly number[],
): Promise<number[]> {
  const width = [program.inputs.length, program.states.length] as const;
  const differing: number[] = [];
  for (const k of at) {
    const inputs = s.inputs.subarray(k * width[0], (k + 1) * width[0]);
    const state = k === 0 ? s.start : s.states.subarray((k - 1) * width[1], k * width[1]);
    const { values } = interpret(program, state, inputs);
    if (!(await agrees(solver, program, [{ state, inputs: [inputs], values } as never], (text) => text)))
      differing.push(k);
  }
  return differing;
}

/** The guard's C, compiled at -O2, that plays stretches. */
export class GuardC {
  readonly #folder = mkdtempSync(join(tmpdir(), 'bywright-guard-c-'));
  readonly #program: Program;

  constructor(program: Program, alter: (source: string) => string = (source) => source) {
    this.#program = program;
    const [source, binary] = [join(this.#folder, 'guard.c'), join(this.#folder, 'guard')];
    writeFileSync(source, `#include <stdio.h>\n${alter(cSource([program]))}\n${player(program)}`);
    execFileSync('gcc', ['-std=c99', '-Wall', '-Wextra', '-Werror', '-O2', '-o', binary, source]);
  }

  /** The first step, from 0, at which the C differs from the run in any output or state; −1 where none does. */
  differs(s: Stretch): number {
    const { inputs, outputs, states } = this.#program;
    const width = inputs.length + outputs.length + states.length;
    const rows = new Float64Array(states.length + s.steps * width);
    rows.set(s.start);
    for (let k = 0; k < s.steps; k++) {
      const row = states.length + k * width;
      rows.set(s.inputs.subarray(k * inputs.length, (k + 1) * inputs.length), row);
      rows.set(s.outputs.subarray(k * outputs.length, (k + 1) * outputs.length), row + inputs.length);
      rows.set(
        s.states.subarray(k * states.length, (k + 1) * states.length),
        row + inputs.length + outputs.length,
      );
    }
    const said = execFileSync(join(this.#folder, 'guard'), { input: Buffer.from(rows.buffer) }).toString();
    const [steps, first] = said.trim().split(' ').map(Number) as [number, number];
    if (first < 0 && steps !== s.steps) throw new Error(`the C played ${steps} of ${s.steps} steps`);
    return first;
  }

  remove(): void {
    rmSync(this.#folder, { recursive: true });
  }
}

/** Reads the first state, then rows of inputs, outputs and next states; prints the steps played and the first that differs. */
function player(p: Program): string {
  const [inputs, outputs, states] = [p.inputs, p.outputs, p.states];
  const width = inputs.length + outputs.length + states.length;
  const cast = (d: { type: 'int' | 'bool'; lo: number; hi: number }, value: string) =>
    d.type === 'bool' ? `${value} != 0` : `(${cType(d as never)})(long long)${value}`;
  const at = (i: number) => `row[${i}]`;
  return `int main(void)
{
    static double row[${Math.max(width, states.length)}];
    ${p.name}_in_t in;
    ${p.name}_state_t state;
    ${p.name}_out_t out;
    long steps = 0;
    long first = -1;
    if (fread(row, sizeof(double), ${states.length}, stdin) != ${states.length}) {
        return 1;
    }
${states.map((s, i) => `    state.${s.name} = ${cast(s, at(i))};`).join('\n')}
    while (fread(row, sizeof(double), ${width}, stdin) == ${width}) {
${inputs.map((s, i) => `        in.${s.name} = ${cast(s, at(i))};`).join('\n')}
        ${p.name}_step(&in, &state, &out);
        if (${[
          ...outputs.map((o, i) => `(double)out.${o.name} != ${at(inputs.length + i)}`),
          ...states.map((s, i) => `(double)state.${s.name} != ${at(inputs.length + outputs.length + i)}`),
        ].join('\n            || ')}) {
            if (first < 0) {
                first = steps;
            }
        }
        steps++;
    }
    printf("%ld %ld\\n", steps, first);
    return 0;
}
`;
}
