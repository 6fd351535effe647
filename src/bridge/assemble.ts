/** From plans to a gateway: what is read, the routes, the guards, and what is written, joined and in order. */
import type { Message } from '../dictionary/model.ts';
import { ProgramBuilder } from '../logic/builder.ts';
import { LogicError } from '../logic/error.ts';
import type { Program } from '../logic/form.ts';
import type { Gateway, Source, Stage } from './gateway.ts';
import { joinedRoute } from './joinRoute.ts';
import type { MessageRef, Route } from './model.ts';
import { GatewayNames, identifier } from './names.ts';
import {
  type GatewayParts,
  type GuardInput,
  type GuardOutput,
  type GuardStage,
  Lookup,
  wholeSteps,
} from './plan.ts';
import { BridgeError } from './problem.ts';
import { planProblems } from './problems.ts';
import { AGE_MAX, type ReadForm } from './read.ts';
import { Reads } from './reads.ts';
import { type RouteLine, routeProgram } from './route.ts';
import { checkWiring, outputOf } from './wiring.ts';
import { type WrittenSignal, writeProgram } from './write.ts';

/**
 * Assembles the gateway. Stages run in this order: everything that is read, routes, guards and their orders, everything
 * that is written; so each stage reads only what stands before it. Throws `BridgeError` with every problem that stands
 * against the plans (`planProblems` gives them as data), and where two stages do not fit together (`checkWiring`).
 */
export function assembleGateway(parts: GatewayParts): Gateway {
  const against = planProblems(parts).filter((p) => p.weight === 'refuse');
  const first = against[0];
  if (first) {
    const more = against.length > 1 ? ` (${against.length - 1} more)` : '';
    throw new BridgeError(
      `${first.file}, ${first.path}: found ${first.found}; right would be ${first.expected}${more}`,
      against,
    );
  }
  try {
    return new Assembly(parts).gateway();
  } catch (error) {
    if (error instanceof LogicError)
      throw new BridgeError(`the plans cannot be computed in 32 bits: ${error.message}`);
    throw error;
  }
}

/** A message that is written once its raw values have a stage. */
interface Written {
  ref: MessageRef;
  /** Stage with the output `trigger`, and the output with the raw value of each signal. */
  stage: number;
  outputs: Map<string, string>;
}

class Assembly {
  readonly #parts: GatewayParts;
  readonly #lookup: Lookup;
  readonly #names: GatewayNames;
  readonly #reads: Reads;
  readonly #gateway: Gateway;
  readonly #written: Written[] = [];

  constructor(parts: GatewayParts) {
    this.#parts = parts;
    this.#lookup = new Lookup(parts);
    this.#names = new GatewayNames(parts.guards.map((g) => g.program.name));
    this.#reads = new Reads(this.#lookup, this.#names);
    this.#gateway = {
      name: identifier(parts.name),
      stepMs: parts.stepMs,
      buses: parts.buses.map((bus) => ({ ...bus })),
      pins: [],
      rx: [],
      stages: [],
      tx: [],
      actuators: [],
      names: this.#names.entries,
    };
  }

  gateway(): Gateway {
    const { bridge, guards } = this.#parts;
    const routes = bridge?.routes ?? [];
    for (const route of routes)
      for (const line of route.signals) if (line.from) this.#reads.want(line.from, { kind: 'raw' });
    for (const guard of guards) this.#wantInputs(guard);
    this.#reads.addTo(this.#gateway, bridge?.lostFrames ?? 1);
    for (const route of routes) this.#addRoute(route);
    for (const guard of guards) this.#addGuard(guard);
    for (const written of this.#written) this.#addWrite(written);
    checkWiring(this.#gateway);
    return this.#gateway;
  }

  #push(role: Stage['role'], program: Program, source: (input: string) => Source): number {
    this.#gateway.stages.push({ role, program, sources: program.inputs.map((i) => source(i.name)) });
    return this.#gateway.stages.length - 1;
  }

  #addRoute(route: Route): void {
    const { program, from, outputs } = joinedRoute(route, {
      lookup: this.#lookup,
      names: this.#names,
      reads: this.#reads,
      stepMs: this.#parts.stepMs,
      intervalOf: (source) => this.#interval(source),
    });
    const stage = this.#push('route', program, (input) => from.get(input) as Source);
    this.#written.push({ ref: route.to, stage, outputs });
  }

  #wantInputs(guard: GuardStage): void {
    for (const [name, input] of Object.entries(guard.inputs)) {
      const form = readForm(guard, name, input);
      if (form && (input.kind === 'value' || input.kind === 'flag')) this.#reads.want(input.signal, form);
    }
    for (const input of Object.values(guard.inputs)) {
      if (input.kind === 'age')
        for (const { signal } of input.signals)
          if (!this.#reads.wants(signal)) this.#reads.want(signal, { kind: 'raw' });
    }
  }

  #addGuard(guard: GuardStage): void {
    const { program } = guard;
    const sources = new Map(
      program.inputs.map(({ name }) => [name, this.#inputSource(guard, name, guard.inputs[name])]),
    );
    const at = this.#push('guard', program, (input) => sources.get(input) as Source);
    for (const output of guard.outputs) this.#addOrder(program, at, output);
  }

  #addOrder(program: Program, at: number, output: GuardOutput): void {
    const message = this.#message(output.message);
    const scope = this.#names.signals(['trigger', 'wait', ...program.outputs.map((o) => o.name)]);
    const outputs = new Map<string, string>();
    const lines: RouteLine[] = [];
    for (const line of output.signals) {
      const to = this.#lookup.signal({ ...output.message, signal: line.signal });
      if (!to) continue;
      const name = this.#names.signal(scope, `order of ${message.name}`, line.signal, 'raw');
      outputs.set(line.signal, name);
      const { factor, output: input } = line;
      const value = {
        from: 'source',
        input,
        factor,
        offset: 0,
        onLoss: 'hold',
        rounding: 'towards zero',
      } as const;
      lines.push({ to, output: name, value });
      this.#gateway.actuators.push({ stage: at, output: input, released: line.released });
    }
    const order = routeProgram({
      name: this.#names.program(`order of ${message.name}`),
      note: `Puts what ${program.name} orders into raw values of ${message.name}, every ${output.periodMs} ms.`,
      sources: [...new Set(output.signals.map((s) => s.output))].map((input) => {
        const { type, lo, hi } = outputOf(program, input);
        const note = program.outputs.find((o) => o.name === input)?.note ?? '';
        return { input, type, lo, hi, note, age: null };
      }),
      lines,
      periodSteps: wholeSteps(output.periodMs, this.#parts.stepMs) ?? 1,
      lostSteps: AGE_MAX,
      onLoss: 'send',
    });
    const stage = this.#push('order', order, (input) => ({ from: 'stage', stage: at, output: input }));
    this.#written.push({ ref: output.message, stage, outputs });
  }

  #inputSource(guard: GuardStage, name: string, input: GuardInput | undefined): Source {
    if (!input) throw new BridgeError(`input ${name} of ${guard.program.name} is joined to nothing`);
    switch (input.kind) {
      case 'clock':
        return { from: 'clock' };
      case 'pin':
        return { from: 'pin', pin: this.#pin(input.name, input.active) };
      case 'age':
        return this.#oldest(guard, name, input);
      case 'value':
      case 'flag':
        return this.#reads.value(input.signal, readForm(guard, name, input) as ReadForm);
    }
  }

  #pin(original: string, active: 'high' | 'low'): number {
    const { pins } = this.#gateway;
    const known = pins.findIndex((pin) => pin.original === original && pin.active === active);
    if (known >= 0) return known;
    pins.push({ name: this.#names.pin(original), original, active });
    return pins.length - 1;
  }

  /** The age of several signals is that of the oldest: directly where they share one, otherwise by a small stage. */
  #oldest(guard: GuardStage, name: string, input: GuardInput & { kind: 'age' }): Source {
    const ages = new Map(
      input.signals.map(({ signal }) => {
        const age = this.#reads.age(signal);
        return [`${age.stage} ${age.output}`, age] as const;
      }),
    );
    const [first, ...others] = [...ages.values()];
    if (!first) throw new BridgeError(`input ${name} of ${guard.program.name} names no signal`);
    if (others.length === 0) return first;
    const program = this.#names.program(`oldest for ${guard.program.name} ${name}`);
    const b = new ProgramBuilder(program, `Age of the oldest of ${ages.size} sources.`);
    const nodes = [...ages.values()].map((_, i) => b.input(`age_${i + 1}`, 0, AGE_MAX, 'steps'));
    b.output(
      'age',
      nodes.reduce((a, c) => b.max(a, c)),
      'steps',
    );
    const list = [...ages.values()];
    const stage = this.#push('read', b.finish(), (i) => list[Number(i.slice(4)) - 1] as Source);
    return { from: 'stage', stage, output: 'age' };
  }

  #addWrite({ ref, stage, outputs }: Written): void {
    const message = this.#message(ref);
    const name = this.#names.message(ref.bus, ref.message);
    const scope = this.#names.signals(['trigger', 'send', 'counter', 'check']);
    const signals: WrittenSignal[] = [];
    const from = new Map<string, Source>([['trigger', { from: 'stage', stage, output: 'trigger' }]]);
    for (const [signalName, output] of outputs) {
      const signal = this.#lookup.signal({ ...ref, signal: signalName });
      if (!signal) continue;
      const input = this.#names.signal(scope, `${ref.bus}: ${ref.message}`, signalName);
      signals.push({ signal, input });
      from.set(input, { from: 'stage', stage, output });
    }
    const program = writeProgram(this.#names.program(`write ${name}`), message, signals);
    const at = this.#push('write', program, (input) => from.get(input) as Source);
    this.#gateway.tx.push({
      name,
      bus: this.#lookup.bus(ref.bus)?.number ?? 0,
      id: message.id,
      extended: message.extended,
      length: message.length,
      stage: at,
      send: 'send',
      bytes: Array.from({ length: message.length }, (_, i) => `byte_${i}`),
      counter: message.counter ?? null,
      check: message.check ?? null,
    });
  }

  #message(ref: MessageRef): Message {
    const message = this.#lookup.message(ref);
    if (!message) throw new BridgeError(`message ${ref.message} on ${ref.bus} is not there`);
    return message;
  }

  #interval(source: Source & { from: 'stage' }): { lo: number; hi: number } {
    return outputOf((this.#gateway.stages[source.stage] as Stage).program, source.output);
  }
}

/** How the signal of a guard's input is read; null for an input that is no signal. */
function readForm(guard: GuardStage, name: string, input: GuardInput): ReadForm | null {
  if (input.kind === 'flag') return { kind: 'flag' };
  if (input.kind !== 'value') return null;
  const def = guard.program.inputs.find((i) => i.name === name);
  if (!def) throw new BridgeError(`${guard.program.name} has no input ${name}`);
  const { perCount, gain, sign, unit } = input;
  const { lo, hi } = def;
  return { kind: 'count', perCount, gain, bias: 0, lo, hi, sign, unit: `${perCount} ${unit}` };
}
