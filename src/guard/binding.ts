/** Joins the guard to the buses: which signal, age, pin and clock feeds which input, and what carries its orders. */
import type { SignalRef } from '../bridge/model.ts';
import { type GuardInput, type GuardOutput, type GuardStage, Lookup } from '../bridge/plan.ts';
import { inGuardFile, type PlanProblem, refuse } from '../bridge/problem.ts';
import { unitGain, unitsLike } from '../bridge/units.ts';
import type { Dictionary } from '../dictionary/model.ts';
import { type ChannelPlan, channelPlans } from './channels/plan.ts';
import { perCount } from './counts.ts';
import { type GuardFigures, guardFigures } from './figures.ts';
import { guardInputs, names } from './inputs.ts';
import type { GuardPlan } from './model.ts';
import { guardProgram } from './program/guard.ts';

export interface GuardBinding {
  stage: GuardStage;
  figures: GuardFigures;
  /** Signals whose unit cannot be turned into the guard's; names that are not there are found by `planProblems`. */
  problems: PlanProblem[];
}

/**
 * The guard as a stage of the gateway. Each input takes what its name says, converted from the signal's unit in the
 * dictionary to the guard's counts (`guardInputs`); the speed loses its sign, because the tables hold for either
 * direction. Throws `LogicError` as `guardProgram` does.
 */
export function bindGuard(plan: GuardPlan, dictionaries: Dictionary[], stepMs: number): GuardBinding {
  const figures = guardFigures(plan, stepMs);
  const binder = new Binder(figures, dictionaries);
  const stage: GuardStage = {
    program: guardProgram(figures),
    inputs: binder.inputs(plan),
    outputs: channelPlans(plan).map((c) => binder.output(c)),
  };
  return { stage, figures, problems: inGuardFile(binder.problems) };
}

class Binder {
  readonly problems: PlanProblem[] = [];
  readonly #figures: GuardFigures;
  readonly #units: ReturnType<typeof guardInputs>;
  readonly #lookup: Lookup;
  readonly #joined: Record<string, GuardInput> = {};

  constructor(figures: GuardFigures, dictionaries: Dictionary[]) {
    this.#figures = figures;
    this.#units = guardInputs(figures);
    this.#lookup = new Lookup({ buses: [], dictionaries });
  }

  inputs(plan: GuardPlan): Record<string, GuardInput> {
    const h = plan.handover;
    const channels = channelPlans(plan);
    const commands = channels.map((c): [SignalRef, string] => [c.command, `${c.key}.command`]);
    for (const c of channels) {
      this.#value(names(c.key).command, c.command, `${c.key}.command`);
      if (c.path) this.#sensor(names(c.key).path, c.path.signal, `${c.key}.path.angle`);
      if (c.measured) this.#sensor(names(c.key).measured, c.measured.signal, `${c.key}.angle`);
    }
    this.#flag('request', h.request, 'handover.request');
    this.#age('command_age', ...commands, [h.request, 'handover.request']);
    this.#value('speed', h.speed, 'handover.speed', 'dropped');
    this.#age('speed_age', [h.speed, 'handover.speed']);
    if (h.driverTorque) {
      const path = 'handover.driver_torque.signal';
      this.#value('driver_torque', h.driverTorque.signal, path);
      this.#age('torque_age', [h.driverTorque.signal, path]);
    }
    h.driverActs.forEach(({ signal }, i) => {
      const { key } = this.#figures.acts[i]!;
      const path = `handover.driver_acts[${i}].signal`;
      this.#flag(key, signal, path);
      this.#age(`${key}_age`, [signal, path]);
    });
    h.agreement.forEach(({ first, second }, i) => {
      const { key } = this.#figures.agreement[i]!;
      const path = `handover.agreement[${i}]`;
      this.#value(`${key}_first`, first, `${path}.first`);
      this.#value(`${key}_second`, second, `${path}.second`);
      this.#age(`${key}_age`, [first, `${path}.first`], [second, `${path}.second`]);
    });
    if (h.supply) this.#sensor('supply', h.supply.signal, 'handover.supply.signal');
    if (plan.remote) {
      const signals = channels.flatMap((c): [SignalRef, string][] =>
        c.remote ? [[c.remote, `remote.${c.key}`]] : [],
      );
      for (const c of channels) if (c.remote) this.#value(names(c.key).remote, c.remote, `remote.${c.key}`);
      this.#joined.remote_selected = { kind: 'pin', ...plan.remote.selected };
      this.#flag('remote_link', plan.remote.link, 'remote.link');
      this.#age('remote_age', [plan.remote.link, 'remote.link'], ...signals);
    }
    this.#joined.arm_input = { kind: 'pin', ...plan.armInput };
    this.#joined.stop_input = { kind: 'pin', ...plan.stopInput };
    this.#joined.clock_ms = { kind: 'clock' };
    return this.#joined;
  }

  output(c: ChannelPlan): GuardOutput {
    const at = (field: string) => `${c.key}.${field}`;
    const { order, active, track } = names(c.key);
    // An order goes the other way: from the guard's unit to the signal's.
    const factor = (signal: string, path: string, unit: string) =>
      perCount(unit) / this.#gain({ ...c.output, signal }, path, unit);
    const carried =
      c.outputOrder === null
        ? c.tracks.map(({ signal, restV }, i) => {
            const path = at(`tracks[${i}].signal`);
            return {
              signal,
              path,
              output: track(i),
              factor: factor(signal, path, 'V'),
              released: Math.round(restV * 1000),
            };
          })
        : [
            {
              signal: c.outputOrder,
              path: at('output_order'),
              output: order,
              factor: factor(c.outputOrder, at('output_order'), c.unit),
              released: 0,
            },
          ];
    const follow = {
      signal: c.outputActive,
      path: at('output_active'),
      output: active,
      factor: 1,
      released: 0,
    };
    return {
      message: c.output,
      path: at('output'),
      periodMs: c.outputPeriodMs,
      periodPath: at('output_period_ms'),
      signals: [...carried, follow],
    };
  }

  #sensor(input: string, signal: SignalRef, path: string): void {
    this.#value(input, signal, path);
    this.#age(`${input}_age`, [signal, path]);
  }

  #value(input: string, signal: SignalRef, path: string, sign: 'kept' | 'dropped' = 'kept'): void {
    const { perCount: count, unit } = this.#units.get(input)!;
    this.#joined[input] = {
      kind: 'value',
      signal,
      path,
      perCount: count,
      gain: this.#gain(signal, path.endsWith('.signal') ? path : `${path}.signal`, unit),
      sign,
      unit,
    };
  }

  #flag(input: string, signal: SignalRef, path: string): void {
    this.#joined[input] = { kind: 'flag', signal, path };
  }

  #age(input: string, ...signals: [SignalRef, string][]): void {
    this.#joined[input] = { kind: 'age', signals: signals.map(([signal, path]) => ({ signal, path })) };
  }

  #gain(ref: SignalRef, path: string, to: string): number {
    const unit = this.#lookup.signal(ref)?.unit;
    if (unit === undefined) return 1;
    const factor = unitGain(unit, to);
    if (factor === null) {
      const found = unit === '' ? `${ref.signal} has no unit` : `${ref.signal} is in "${unit}"`;
      this.problems.push(refuse(path, found, `a signal in one of ${unitsLike(to).join(', ')}`));
    }
    return factor ?? 1;
  }
}
