/** What the drawing of handing over says of a guard, from its plan. */
import type { HandoverData } from '../src/dossier/figures/index.ts';
import { guardFigures } from '../src/guard/figures.ts';
import { causes, measuredChannels } from '../src/guard/inputs.ts';
import type { GuardPlan } from '../src/guard/model.ts';

export function handoverData(plan: GuardPlan): HandoverData {
  const h = plan.handover;
  // Step size changes no name and no condition.
  const f = guardFigures(plan, 10);
  const named = causes(f);
  return {
    conditions: [
      plan.remote ? 'the controller asks, or the remote is selected and linked' : 'the controller asks',
      `command and every sensor fresh, steps even, speed at most ${plan.budget.speedMaxMps} m/s`,
      ...measuredChannels(f).map((c) => `commanded and measured ${c.key} close, measured within the level`),
      ...(h.driverTorque ? [`hands off the wheel: below ${h.driverTorque.atNm} N·m`] : []),
      ...h.driverActs.map((act) => `not: ${act.name}`),
      ...h.agreement.map((pair) => `${pair.name} agree`),
      ...(h.supply ? [`supply ${h.supply.lowV} … ${h.supply.highV} V`] : []),
      'stop input off',
    ],
    releases: named.filter((c) => c.kind === 'release').map((c) => c.name),
    trips: named.filter((c) => c.kind === 'trip').map((c) => c.name),
    now: null,
  };
}
