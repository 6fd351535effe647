/** Conditions that, as the signals of the dictionary are, can never or always hold. */
import type { SignalRef } from '../../bridge/model.ts';
import { believedRange, Lookup } from '../../bridge/plan.ts';
import { type PlanProblem, refuse, tidy } from '../../bridge/problem.ts';
import { unitGain } from '../../bridge/units.ts';
import type { Dictionary } from '../../dictionary/model.ts';
import type { GuardPlan } from '../model.ts';

export function conditionProblems(plan: GuardPlan, dictionaries: Dictionary[]): PlanProblem[] {
  const lookup = new Lookup({ buses: [], dictionaries });
  /** What a signal can say, in `unit`; null where that is not known. */
  const range = (ref: SignalRef, unit: string): { lo: number; hi: number } | null => {
    const signal = lookup.signal(ref);
    const gain = signal && unitGain(signal.unit, unit);
    if (!signal || !gain) return null;
    const { lo, hi } = believedRange(signal);
    return { lo: lo * gain, hi: hi * gain };
  };
  return [
    ...torque(plan, range),
    ...agreement(plan, range),
    ...supply(plan, range),
    ...measured(plan, range),
  ];
}

type Range = (ref: SignalRef, unit: string) => { lo: number; hi: number } | null;

function torque({ handover: { driverTorque: t } }: GuardPlan, range: Range): PlanProblem[] {
  const can = t && range(t.signal, 'N·m');
  if (!t || !can) return [];
  const most = Math.min(-can.lo, can.hi);
  if (most >= t.atNm) return [];
  return [
    refuse(
      'handover.driver_torque.at_nm',
      `${tidy(t.atNm)} N·m, while "${t.signal.signal}" is believed only from ${tidy(can.lo)} to ${tidy(can.hi)} N·m: the driver could not take over to one side`,
      `at most ${tidy(Math.max(0, most))} N·m, or a signal that says more`,
    ),
  ];
}

function agreement({ handover: h }: GuardPlan, range: Range): PlanProblem[] {
  return h.agreement.flatMap((pair, i): PlanProblem[] => {
    const [a, b] = [range(pair.first, pair.unit), range(pair.second, pair.unit)];
    const path = `handover.agreement[${i}]`;
    const same = (['bus', 'message', 'signal'] as const).every((k) => pair.first[k] === pair.second[k]);
    if (same)
      return [
        refuse(
          `${path}.second`,
          'the same signal as `first`: it always agrees',
          'another way to measure the same',
        ),
      ];
    if (!a || !b) return [];
    const furthest = Math.max(a.hi - b.lo, b.hi - a.lo);
    if (furthest > pair.differBy) return [];
    return [
      refuse(
        `${path}.differ_by`,
        `${tidy(pair.differBy)} ${pair.unit}, while both together can say at most ${tidy(furthest)}: they always agree`,
        `less than ${tidy(furthest)} ${pair.unit}`,
      ),
    ];
  });
}

function supply({ handover: { supply: s } }: GuardPlan, range: Range): PlanProblem[] {
  if (!s) return [];
  if (s.lowV >= s.highV)
    return [
      refuse(
        'handover.supply.low_v',
        `${tidy(s.lowV)} V, not below high_v of ${tidy(s.highV)} V: the supply is never in its band`,
        'a lower end below the upper one',
      ),
    ];
  const can = range(s.signal, 'V');
  if (!can) return [];
  const problems: PlanProblem[] = [];
  if (can.hi < s.lowV || can.lo > s.highV)
    problems.push(
      refuse(
        'handover.supply',
        `${tidy(s.lowV)} … ${tidy(s.highV)} V, while "${s.signal.signal}" says ${tidy(can.lo)} … ${tidy(can.hi)} V: never in its band`,
        'a band that the signal can be in',
      ),
    );
  else if (can.lo >= s.lowV && can.hi <= s.highV)
    problems.push(
      refuse(
        'handover.supply',
        `${tidy(s.lowV)} … ${tidy(s.highV)} V, while "${s.signal.signal}" says ${tidy(can.lo)} … ${tidy(can.hi)} V: always in its band`,
        'a band narrower than what the signal can say',
      ),
    );
  return problems;
}

function measured({ steering: s }: GuardPlan, range: Range): PlanProblem[] {
  if (s?.by !== 'angle') return [];
  const can = range(s.angle, '°');
  const level = Math.max(...s.level.map((p) => p.angleDeg));
  if (!can || Math.min(-can.lo, can.hi) > 0 || level === 0) return [];
  return [
    refuse(
      'steering.angle',
      `"${s.angle.signal}" is believed only from ${tidy(can.lo)} to ${tidy(can.hi)}°`,
      'a signal that tells both sides of straight ahead apart',
    ),
  ];
}
