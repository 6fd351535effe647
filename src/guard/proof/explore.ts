/** Runs the guard with its observer through many scenarios: what is reached, what is broken, and states to search from. */
import type { Program } from '../../logic/form.ts';
import { outputIndex } from '../../logic/graph.ts';
import { type CompiledProgram, compile } from '../../logic/run.ts';
import { seededRandom } from './random.ts';
import { scenario } from './scenario.ts';
import type { Claim, Subject } from './subject.ts';

/** A state that a run reached, and the run that leads there. */
export interface Reached {
  state: Float64Array;
  seed: number;
  /** Steps of the run before this state. */
  steps: number;
}

export interface Exploration {
  /** Steps run in all. */
  steps: number;
  /** By claim: whether its condition was met. */
  met: boolean[];
  /** By claim: the inputs of the first run that breaks it, up to that step. */
  broken: (Float64Array[] | null)[];
  /** States that differ in kind, each reached from switching on. */
  pool: Reached[];
}

export interface ExploreOptions {
  /** At least this many steps are run. */
  steps: number;
  seed: number;
  /** The exploration ends with the run in which this many claims are broken; by default it never does. */
  enough?: number;
  signal?: AbortSignal | undefined;
  onProgress?: ((fraction: number) => void) | undefined;
}

/** The program as a simulator: claims become outputs, nothing else is computed. */
export class Bench {
  readonly compiled: CompiledProgram;
  readonly outputs: Float64Array;
  readonly #mode: number;
  readonly #claims: number;

  constructor(program: Program, claims: readonly Pick<Claim, 'when' | 'must'>[]) {
    const outputs = program.outputs.filter((o) => o.name === 'mode');
    this.#claims = outputs.length;
    const watched = claims.flatMap((c, i) => [
      { name: `when_${i}`, node: c.when, note: '' },
      { name: `must_${i}`, node: c.must, note: '' },
    ]);
    this.compiled = compile({ ...program, outputs: [...outputs, ...watched] });
    this.outputs = new Float64Array(outputs.length + watched.length);
    this.#mode = outputIndex(this.compiled.program, 'mode');
  }

  step(state: Float64Array, inputs: Float64Array): void {
    this.compiled.step(state, inputs, this.outputs);
  }

  get mode(): number {
    return this.outputs[this.#mode]!;
  }

  met(claim: number): boolean {
    return this.outputs[this.#claims + 2 * claim] === 1;
  }

  broken(claim: number): boolean {
    return this.met(claim) && this.outputs[this.#claims + 2 * claim + 1] === 0;
  }
}

export async function explore(subject: Subject, options: ExploreOptions): Promise<Exploration> {
  const { program, claims, figures } = subject;
  const bench = new Bench(program, claims);
  const met = claims.map(() => false);
  const broken: (Float64Array[] | null)[] = claims.map(() => null);
  const pool = new Map<string, Reached>();
  const inputs = new Float64Array(program.inputs.length);
  let steps = 0;
  const enough = options.enough ?? Number.POSITIVE_INFINITY;
  let failed = 0;
  for (let seed = options.seed; steps < options.steps && failed < enough; seed++) {
    if (seed % 16 === 0) {
      await null;
      options.signal?.throwIfAborted();
      options.onProgress?.(steps / options.steps);
    }
    const drive = scenario(figures, seededRandom(seed));
    const state = bench.compiled.initial();
    const shown = { mode: 0 };
    for (let step = 0; step < drive.steps; step++) {
      const kind = kindOf(subject, state);
      if (!pool.has(kind) && pool.size < POOL) pool.set(kind, { state: state.slice(), seed, steps: step });
      drive.next(shown, inputs);
      bench.step(state, inputs);
      shown.mode = bench.mode;
      steps++;
      for (let i = 0; i < claims.length; i++) {
        if (!bench.met(i)) continue;
        met[i] = true;
        if (broken[i] !== null || !bench.broken(i)) continue;
        broken[i] = replayInputs(subject, seed, step + 1);
        failed++;
      }
    }
  }
  return { steps, met, broken, pool: [...pool.values()] };
}

/** The inputs of a run's first steps, drawn again from its seed. */
export function replayInputs(subject: Subject, seed: number, steps: number): Float64Array[] {
  const drive = scenario(subject.figures, seededRandom(seed));
  const bench = new Bench(subject.program, []);
  const state = bench.compiled.initial();
  const shown = { mode: 0 };
  const list: Float64Array[] = [];
  for (let step = 0; step < steps; step++) {
    const inputs = new Float64Array(subject.program.inputs.length);
    drive.next(shown, inputs);
    bench.step(state, inputs);
    shown.mode = bench.mode;
    list.push(inputs);
  }
  return list;
}

const POOL = 400;

/** States of one kind agree in which of the guard's numbers are at an end of their range, next to it, or between. */
function kindOf({ guard }: Subject, state: Float64Array): string {
  let kind = '';
  guard.states.forEach(({ name, lo, hi }, i) => {
    const value = state[i]!;
    if (name === 'mode_held') kind += value;
    else if (hi - lo > 1000) kind += value === 0 ? '0' : value < 0 ? '-' : '+';
    else if (hi - lo <= 1) kind += value;
    else kind += value === lo ? 'l' : value === hi ? 'h' : value === hi - 1 ? 'g' : 'm';
  });
  return kind;
}
