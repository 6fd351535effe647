/** Routes and orders: values from one side turned into raw values of a message, and the moments to send it. */
import { rawRange } from '../can/bits.ts';
import type { Signal } from '../dictionary/model.ts';
import { ProgramBuilder } from '../logic/builder.ts';
import type { NodeId, Program } from '../logic/form.ts';
import { linear, towardsZero } from './linear.ts';
import { believedRange } from './plan.ts';

/** A value that a route takes in: an integer `count`, or a truth value, whose value is 0 or 1. */
export interface RouteSource {
  input: string;
  type: 'int' | 'bool';
  lo: number;
  hi: number;
  note: string;
  /** Name of the age that goes with it; null for a value that is never lost. */
  age: string | null;
}

export interface RouteLine {
  /** Signal that is written, and the name of the output with its raw value. */
  to: Signal;
  output: string;
  value:
    | { from: 'constant'; physical: number }
    /**
     * Physical value = count × `factor` + `offset`. `onLoss`: hold the last, or this physical value instead.
     * `rounding`: towards zero for what an actuator is ordered to do, so that no limit is exceeded by rounding.
     */
    | {
        from: 'source';
        input: string;
        factor: number;
        offset: number;
        onLoss: 'hold' | number;
        rounding: 'nearest' | 'towards zero';
      };
}

export interface RoutePlan {
  name: string;
  note: string;
  sources: RouteSource[];
  lines: RouteLine[];
  periodSteps: number;
  /** Ages from here on count as lost. */
  lostSteps: number;
  /** While a source is lost: send nothing, or go on with each line's `onLoss`. */
  onLoss: 'send' | 'stop';
}

/**
 * Program of a route. Inputs: ages and sources. Outputs: `trigger`, and the raw value of each line, kept within what
 * the target's bits and limits hold. Nothing is sent before everything that would be held was received once.
 */
export function routeProgram(plan: RoutePlan): Program {
  const b = new ProgramBuilder(plan.name, plan.note);
  const lost = new Map<string, NodeId>();
  for (const age of new Set(plan.sources.flatMap((s) => (s.age === null ? [] : [s.age])))) {
    const node = b.input(age, 0, AGE_LIMIT, 'steps');
    lost.set(age, b.named(`lost_${age}`, b.le(b.const(plan.lostSteps), node)));
  }
  const values = new Map(plan.sources.map((s) => [s.input, sourceNode(b, s)]));
  const ageOf = new Map(plan.sources.map((s) => [s.input, s.age]));
  for (const line of plan.lines) {
    const { value } = line;
    const age = value.from === 'source' ? (ageOf.get(value.input) ?? null) : null;
    const node = lineNode(b, line, values, age === null ? null : (lost.get(age) as NodeId));
    b.output(line.output, node, `raw value of ${line.to.name}`);
  }
  const held = plan.lines.flatMap(({ value }) =>
    value.from === 'source' && value.onLoss === 'hold' ? [ageOf.get(value.input)] : [],
  );
  const allowed = [...lost].flatMap(([age, isLost]) => {
    if (plan.onLoss === 'stop') return [b.not(isLost)];
    if (!held.includes(age)) return [];
    const before = b.stateBool(`known_${age}`, false, 'was received once');
    const known = b.or(before, b.not(isLost));
    b.next(before, known);
    return [known];
  });
  b.output('trigger', pace(b, plan.periodSteps, allowed), '1 = send in this step');
  return b.finish();
}

const AGE_LIMIT = 1023;

/** True every `steps` steps while all of `allowed` hold; at once when they hold again after a longer break. */
function pace(b: ProgramBuilder, steps: number, allowed: NodeId[]): NodeId {
  const may = allowed.length === 0 ? b.bool(true) : b.and(...(allowed as [NodeId, ...NodeId[]]));
  if (steps === 1) return may;
  const wait = b.state('wait', 0, steps - 1, 0, 'steps until the next frame is due');
  const due = b.eq(wait, b.const(0));
  const trigger = b.and(due, may);
  const less = b.max(b.sub(wait, b.const(1)), b.const(0));
  b.next(wait, b.select(trigger, b.const(steps - 1), less));
  return trigger;
}

function sourceNode(b: ProgramBuilder, source: RouteSource): NodeId {
  if (source.type === 'int') return b.input(source.input, source.lo, source.hi, source.note);
  return b.select(b.inputBool(source.input, source.note), b.const(1), b.const(0));
}

function lineNode(
  b: ProgramBuilder,
  line: RouteLine,
  values: Map<string, NodeId>,
  lost: NodeId | null,
): NodeId {
  const { value, to } = line;
  const { rawLo, rawHi } = believedRange(to);
  const rawOf = (physical: number) =>
    Math.min(rawHi, Math.max(rawLo, Math.round((physical - to.offset) / to.scale)));
  if (value.from === 'constant') return b.const(rawOf(value.physical));
  const source = values.get(value.input) as NodeId;
  const factor = value.factor / to.scale;
  const raw =
    value.rounding === 'nearest'
      ? linear(b, source, factor, (value.offset - to.offset) / to.scale, rawLo, rawHi)
      : towardsZero(b, source, factor, Math.round(-to.offset / to.scale), rawLo, rawHi);
  const named = b.named(`now_${line.output}`, raw);
  if (lost === null || value.onLoss === 'hold') return named;
  return b.select(lost, b.const(rawOf(value.onLoss)), named);
}

/** Raw range of a signal as the write program takes it. */
export function fieldRange(signal: Signal): { lo: number; hi: number } {
  return rawRange(signal.length, signal.signed);
}
