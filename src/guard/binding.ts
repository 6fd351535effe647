/** Joins the guard to the buses: which signal, age, pin and clock feeds which input, and what carries its orders. */
import type { SignalRef } from '../bridge/model.ts';
import { type GuardInput, type GuardStage, Lookup } from '../bridge/plan.ts';
import { inGuardFile, type PlanProblem, refuse } from '../bridge/problem.ts';
import { unitGain, unitsLike } from '../bridge/units.ts';
import type { Dictionary } from '../dictionary/model.ts';
import type { GuardPlan } from './model.ts';
import { steeringStage } from './steering.ts';
import { type SteeringInput, steeringOutputs, steeringUnits } from './units.ts';

export interface GuardBinding {
  stage: GuardStage;
  /** Signals whose unit cannot be turned into the guard's; names that are not there are found by `planProblems`. */
  problems: PlanProblem[];
}

/**
 * The steering guard as a stage of the gateway. Each input takes what its name says, converted from the signal's unit in
 * the dictionary to the guard's counts (`steeringUnits`); the speed loses its sign, because the tables hold for either
 * direction. Throws `LogicError` as `steeringStage` does.
 */
export function bindSteering(plan: GuardPlan, dictionaries: Dictionary[], stepMs: number): GuardBinding {
  const lookup = new Lookup({ buses: [], dictionaries });
  const problems: PlanProblem[] = [];
  const s = plan.steering;
  const gain = (ref: SignalRef, path: string, to: string): number => {
    const unit = lookup.signal(ref)?.unit;
    if (unit === undefined) return 1;
    const factor = unitGain(unit, to);
    if (factor === null) {
      const found = unit === '' ? `${ref.signal} has no unit` : `${ref.signal} is in "${unit}"`;
      problems.push(refuse(path, found, `a signal in one of ${unitsLike(to).join(', ')}`));
    }
    return factor ?? 1;
  };
  const value = (
    input: SteeringInput,
    signal: SignalRef,
    path: string,
    sign: 'kept' | 'dropped',
  ): GuardInput => {
    const { perCount, unit } = steeringUnits[input];
    return { kind: 'value', signal, path, perCount, gain: gain(signal, `${path}.signal`, unit), sign, unit };
  };
  const age = (...signals: [SignalRef, string][]): GuardInput => ({
    kind: 'age',
    signals: signals.map(([signal, path]) => ({ signal, path })),
  });
  const inputs: Record<SteeringInput, GuardInput> = {
    command_angle: value('command_angle', s.command, 'steering.command', 'kept'),
    command_request: { kind: 'flag', signal: s.request, path: 'steering.request' },
    command_age: age([s.command, 'steering.command'], [s.request, 'steering.request']),
    speed: value('speed', s.speed, 'steering.speed', 'dropped'),
    speed_age: age([s.speed, 'steering.speed']),
    angle: value('angle', s.angle, 'steering.angle', 'kept'),
    angle_age: age([s.angle, 'steering.angle']),
    driver_torque: value('driver_torque', s.driverTorque, 'steering.driver_torque', 'kept'),
    torque_age: age([s.driverTorque, 'steering.driver_torque']),
    arm_input: { kind: 'pin', ...plan.armInput },
    stop_input: { kind: 'pin', ...plan.stopInput },
    clock_ms: { kind: 'clock' },
  };
  const order = steeringOutputs.order_angle;
  const angleRef = { ...s.output, signal: s.outputAngle };
  // The order goes the other way: from the guard's unit to the signal's.
  const orderGain = 1 / gain(angleRef, 'steering.output_angle', order.unit);
  const stage: GuardStage = {
    program: steeringStage(plan, stepMs).program,
    inputs,
    output: {
      message: s.output,
      path: 'steering.output',
      periodMs: s.outputPeriodMs,
      periodPath: 'steering.output_period_ms',
      signals: [
        {
          signal: s.outputAngle,
          path: 'steering.output_angle',
          output: 'order_angle',
          factor: order.perCount * orderGain,
          released: 0,
        },
        {
          signal: s.outputActive,
          path: 'steering.output_active',
          output: 'order_active',
          factor: 1,
          released: 0,
        },
      ],
    },
  };
  return { stage, problems: inGuardFile(problems) };
}
