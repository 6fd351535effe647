/** Figures of the host car that contradict each other. */
import { rounded } from '../units.ts';
import type { Check } from './index.ts';
import { problemAt } from './place.ts';

export const hostCheck: Check = ({ file: { host } }, sources) => {
  const problems = [];
  if (host.cgToFrontM >= host.wheelbaseM)
    problems.push(
      problemAt(
        sources,
        'build.yaml',
        'host.cg_to_front_m',
        `${host.cgToFrontM} m`,
        `less than the wheelbase of ${host.wheelbaseM} m: the centre of gravity lies between the axles`,
      ),
    );
  // A uniform rod as long as three wheelbases has m·(3L)²/12; no car comes near it, a mistaken unit does.
  const largest = (host.massKg * (3 * host.wheelbaseM) ** 2) / 12;
  const smallest = host.massKg * (host.wheelbaseM / 6) ** 2;
  if (host.yawInertiaKgm2 > largest || host.yawInertiaKgm2 < smallest) {
    const usual = rounded(Math.round(host.massKg * (host.wheelbaseM / 2) ** 2));
    problems.push(
      problemAt(
        sources,
        'build.yaml',
        'host.yaw_inertia_kgm2',
        `${host.yawInertiaKgm2} kg·m²`,
        `a figure between ${Math.ceil(smallest)} and ${Math.floor(largest)} for this mass and wheelbase (mass × (wheelbase/2)² is ${usual})`,
      ),
    );
  }
  return problems;
};
