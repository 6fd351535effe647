/** A route of the plan as a program, with the place of everything that it reads. */
import type { Program } from '../logic/form.ts';
import type { Source } from './gateway.ts';
import type { Route } from './model.ts';
import type { GatewayNames, NameScope } from './names.ts';
import { type Lookup, wholeSteps } from './plan.ts';
import { AGE_MAX } from './read.ts';
import type { Reads } from './reads.ts';
import { type RouteLine, type RouteSource, routeProgram } from './route.ts';

type StageSource = Source & { from: 'stage' };

/** What stands ready when a route is joined. */
export interface RouteSite {
  lookup: Lookup;
  names: GatewayNames;
  /** Everything read, already part of the gateway. */
  reads: Reads;
  stepMs: number;
  intervalOf(source: StageSource): { lo: number; hi: number };
}

export interface JoinedRoute {
  program: Program;
  /** Source of each input by name. */
  from: Map<string, Source>;
  /** Output with the raw value of each signal that is written, by the signal's name. */
  outputs: Map<string, string>;
}

export function joinedRoute(route: Route, site: RouteSite): JoinedRoute {
  const { lookup, names, stepMs } = site;
  const place = `route ${route.name}`;
  const scope = names.signals(['trigger', 'wait']);
  const inputs = new RouteInputs(site, place, scope);
  const outputs = new Map<string, string>();
  const lines = route.signals.flatMap((line): RouteLine[] => {
    const to = lookup.signal({ ...route.to, signal: line.to });
    if (!to) return [];
    const output = names.signal(scope, place, line.to, 'raw');
    outputs.set(line.to, output);
    const signal = line.from && lookup.signal(line.from);
    if (!line.from || !signal)
      return [{ to, output, value: { from: 'constant', physical: line.value ?? 0 } }];
    const value = {
      from: 'source',
      input: inputs.of(line.from),
      factor: signal.scale * line.gain,
      offset: signal.offset * line.gain + line.bias,
      onLoss: line.onLoss,
      rounding: 'nearest',
    } as const;
    return [{ to, output, value }];
  });
  const program = routeProgram({
    name: names.program(place),
    note: `Route ${route.name}: raw values of ${route.to.message}, every ${route.periodMs} ms.`,
    sources: inputs.sources,
    lines,
    periodSteps: wholeSteps(route.periodMs, stepMs) ?? 1,
    lostSteps: Math.min(AGE_MAX, Math.floor(route.sourceAgeMs / stepMs + 1e-9)),
    onLoss: route.onLoss,
  });
  return { program, from: inputs.from, outputs };
}

/** The signals that a route reads, each once, and their ages, each once. */
class RouteInputs {
  readonly sources: RouteSource[] = [];
  readonly from = new Map<string, Source>();
  readonly #known = new Map<string, string>();
  readonly #ages = new Map<string, string>();
  readonly #site: RouteSite;
  readonly #place: string;
  readonly #scope: NameScope;

  constructor(site: RouteSite, place: string, scope: NameScope) {
    this.#site = site;
    this.#place = place;
    this.#scope = scope;
  }

  /** Name of the input that takes this signal. */
  of(ref: NonNullable<Route['signals'][number]['from']>): string {
    const { reads, names, intervalOf } = this.#site;
    const key = JSON.stringify([ref.bus, ref.message, ref.signal]);
    const known = this.#known.get(key);
    if (known !== undefined) return known;
    const age = this.#age(reads.age(ref), `age of ${ref.bus} ${ref.message}`);
    const input = names.signal(this.#scope, this.#place, `${ref.bus} ${ref.signal}`);
    const value = reads.value(ref, { kind: 'raw' });
    this.#known.set(key, input);
    this.from.set(input, value);
    this.sources.push({ input, type: 'int', ...intervalOf(value), note: `raw ${ref.signal}`, age });
    return input;
  }

  #age(source: StageSource, wanted: string): string {
    const key = `${source.stage} ${source.output}`;
    const known = this.#ages.get(key);
    if (known !== undefined) return known;
    const name = this.#scope.give(wanted);
    this.#ages.set(key, name);
    this.from.set(name, source);
    return name;
  }
}
