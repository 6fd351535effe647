/** What keeps a guard from being joined to the buses, with places in `guard.yaml`. */
import type { Program } from '../logic/form.ts';
import {
  believedRange,
  type GatewayParts,
  type GuardOutput,
  type GuardStage,
  guardSignals,
  type Lookup,
  wholeSteps,
} from './plan.ts';
import { caution, inGuardFile, type PlanProblem, refuse, tidy } from './problem.ts';
import { referenceProblems } from './reference.ts';
import { readProblems, writeProblems } from './supported.ts';
import { outputOf } from './wiring.ts';

export function guardProblems(parts: GatewayParts, lookup: Lookup): PlanProblem[] {
  return inGuardFile(
    parts.guards.flatMap((guard) => [
      ...inputProblems(guard, lookup),
      ...guard.outputs.flatMap((output) => outputProblems(guard.program, output, parts.stepMs, lookup)),
    ]),
  );
}

function inputProblems(guard: GuardStage, lookup: Lookup): PlanProblem[] {
  const seen = new Set<string>();
  return guardSignals(guard).flatMap(({ signal: ref, path }) => {
    if (seen.has(path)) return [];
    seen.add(path);
    const problems = referenceProblems(ref, path, lookup);
    const message = lookup.message(ref);
    const signal = lookup.signal(ref);
    return message && signal ? [...problems, ...readProblems(message, signal, path)] : problems;
  });
}

function outputProblems(
  program: Program,
  output: GuardOutput,
  stepMs: number,
  lookup: Lookup,
): PlanProblem[] {
  const problems = referenceProblems(output.message, output.path, lookup);
  if (wholeSteps(output.periodMs, stepMs) === null) {
    const right = `a multiple of the gateway's step of ${stepMs} ms`;
    problems.push(refuse(output.periodPath, `${tidy(output.periodMs)} ms`, right));
  }
  const message = lookup.message(output.message);
  if (!message) return problems;
  problems.push(...writeProblems(message, lookup.bus(output.message.bus), `${output.path}.message`));
  for (const line of output.signals) {
    const ref = { ...output.message, signal: line.signal };
    const signal = lookup.signal(ref);
    if (!signal) {
      problems.push(...referenceProblems(ref, line.path, lookup).map((p) => ({ ...p, path: line.path })));
      continue;
    }
    if (signal.scale === 0) continue;
    const released = line.released * line.factor;
    const zero = (released - signal.offset) / signal.scale;
    const held = believedRange(signal);
    if (
      Math.abs(zero - Math.round(zero)) > 1e-6 ||
      held.rawLo > Math.round(zero) ||
      held.rawHi < Math.round(zero)
    ) {
      const found = `${signal.name} of ${message.name} cannot hold exactly ${tidy(released)}`;
      const right = `a scale, offset and limits with which a raw value means ${tidy(released)}, its value when let go`;
      problems.push(refuse(line.path, found, right));
    }
    const { lo, hi } = outputOf(program, line.output);
    const [least, most] = [lo * line.factor, hi * line.factor];
    const slack = Math.abs(signal.scale) / 2;
    if (
      outputOf(program, line.output).type === 'int' &&
      (least < held.lo - slack || most > held.hi + slack)
    ) {
      const found = `the guard orders ${tidy(least)} … ${tidy(most)}, ${signal.name} holds ${tidy(held.lo)} … ${tidy(held.hi)}`;
      problems.push(caution(line.path, found, 'a signal that holds the whole level, or a lower level'));
    }
  }
  return problems;
}
