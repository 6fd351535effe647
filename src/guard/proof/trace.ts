/** A run that breaks a claim: replayed, shortened, and given as numbers. */
import { initialState, interpret } from '../../logic/interpret.ts';
import { Bench } from './explore.ts';
import type { Claim, Subject } from './subject.ts';

/** One value over the steps of a run, in physical units where it has one. */
export interface Column {
  name: string;
  kind: 'input' | 'state' | 'value' | 'output';
  /** Unit and meaning. */
  note: string;
  values: number[];
}

export interface Counterexample {
  /** Steps of the run from switching on; the last is the one that breaks the claim. */
  steps: number;
  stepMs: number;
  /** Counted from 0. */
  offendingStep: number;
  columns: Column[];
}

/** The step (from 0) in which a run from switching on breaks the claim, −1 if it does not. */
export function breaksAt(bench: Bench, claim: number, inputs: readonly Float64Array[]): number {
  const state = bench.compiled.initial();
  for (let step = 0; step < inputs.length; step++) {
    bench.step(state, inputs[step]!);
    if (bench.broken(claim)) return step;
  }
  return -1;
}

/**
 * A shorter and calmer run that breaks the claim too: steps are left out in ever smaller pieces until no single one can
 * be, then every input keeps the value of the step before wherever the claim stays broken. The clock goes on in the same
 * spacing. Not the shortest of all; it ends after `TRIES` tries at the latest.
 */
export function shrink(subject: Subject, claim: Claim, inputs: readonly Float64Array[]): Float64Array[] {
  const bench = new Bench(subject.program, [claim]);
  const clock = subject.program.inputs.findIndex((input) => input.name === 'clock_ms');
  let tries = 0;
  let best = toSpacing(inputs, clock);
  const attempt = (candidate: Float64Array[]): boolean => {
    if (tries >= TRIES) return false;
    tries++;
    const at = breaksAt(bench, 0, toClock(candidate, clock));
    if (at < 0) return false;
    best = candidate.slice(0, at + 1);
    return true;
  };
  const leaveOut = (size: number): boolean => {
    const before = best.length;
    for (let from = before - size; from >= 0; from -= size)
      if (from + size <= best.length) attempt([...best.slice(0, from), ...best.slice(from + size)]);
    return best.length < before;
  };
  attempt(best);
  for (let size = Math.ceil(best.length / 2); size > 1; size = Math.ceil(size / 2)) leaveOut(size);
  while (leaveOut(1));
  const calm = () => {
    for (let input = 0; input < subject.program.inputs.length; input++) {
      if (input === clock) continue;
      for (let step = 1; step < best.length; step++) {
        const before = best[step - 1]![input]!;
        if (best[step]![input] === before) continue;
        const calmer = best.map((row) => row.slice());
        calmer[step]![input] = before;
        attempt(calmer);
      }
    }
  };
  // A calmer run often does without steps that the wilder one needed.
  do calm();
  while (leaveOut(1));
  return toClock(best, clock);
}

/** Every input, state, named value and output of a run of the guard, step by step; states as they are after the step. */
export function counterexample(
  subject: Subject,
  claim: Claim,
  inputs: readonly Float64Array[],
): Counterexample {
  const { guard, program, figures } = subject;
  const shown = guard.nodes.flatMap((n, id) =>
    n.name !== '' && n.kind !== 'input' && n.kind !== 'state' && n.kind !== 'const' ? [id] : [],
  );
  const columns: (Column & { perCount: number })[] = [
    ...guard.inputs.map((d) => column(d.name, 'input', d.note)),
    ...guard.states.map((d) => column(d.name, 'state', d.note)),
    ...shown.map((id) => column(guard.nodes[id]!.name, 'value', guard.nodes[id]!.note ?? '')),
    ...guard.outputs.map((d) => column(d.name, 'output', d.note)),
  ];
  let state = initialState(program);
  let offendingStep = -1;
  inputs.forEach((row, step) => {
    const { values, next } = interpret(program, state, row);
    const counts = [
      ...guard.inputs.map((_, i) => row[i]!),
      ...guard.states.map((_, i) => next[i]!),
      ...shown.map((id) => values[id]!),
      ...guard.outputs.map((o) => values[o.node]!),
    ];
    counts.forEach((count, i) => {
      columns[i]!.values.push(tidy(count * columns[i]!.perCount));
    });
    if (offendingStep < 0 && values[claim.when] === 1 && values[claim.must] === 0) offendingStep = step;
    state = next;
  });
  return {
    steps: inputs.length,
    stepMs: figures.stepMs,
    offendingStep,
    columns: columns.map(({ perCount: _, ...rest }) => rest),
  };
}

const TRIES = 5000;
/** Rows whose clock holds the time since the step before; the first holds the reading. */
function toSpacing(rows: readonly Float64Array[], at: number): Float64Array[] {
  return rows.map((row, i) => {
    const copy = row.slice();
    const before = rows[i - 1]?.[at];
    if (before !== undefined) copy[at] = (row[at]! - before + 2 ** 32) % 2 ** 32;
    return copy;
  });
}

function toClock(rows: readonly Float64Array[], at: number): Float64Array[] {
  let clock = 0;
  return rows.map((row, i) => {
    const copy = row.slice();
    clock = i === 0 ? row[at]! : (clock + row[at]!) % 2 ** 32;
    copy[at] = clock;
    return copy;
  });
}

/** A note that begins with an amount of a unit, "0.01 m/s, …", says how much one count is worth. */
function column(name: string, kind: Column['kind'], note: string): Column & { perCount: number } {
  const match = /^(0\.\d+) ?([^\s,]+)(.*)$/.exec(note);
  if (!match) return { name, kind, note, values: [], perCount: 1 };
  return { name, kind, note: `${match[2]}${match[3]}`, values: [], perCount: Number(match[1]) };
}

function tidy(value: number): number {
  return Math.round(value * 1e6) / 1e6 + 0;
}
