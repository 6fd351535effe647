/**
 * Runs that lead the guard to a given place: armed, at these orders and this speed. The solver says where a change would
 * show, from a state that need not be reachable; from there on only a real run counts.
 */
import { guardInputs, modeNumber, names } from '../inputs.ts';
import { Bench } from './explore.ts';
import type { Subject } from './subject.ts';

/** State and inputs of one step, as a solver gave them. */
export interface Place {
  state: Float64Array;
  inputs: Float64Array;
}

/** What is done once the guard is there: the step's own inputs, calm ones, or the request withdrawn; this many steps each. */
type Then = readonly ('place' | 'calm' | 'release')[];

/** Tries runs to the place. The first claim (its position) that one of them breaks, and its inputs; null where none does. */
export function aimedRuns(subject: Subject, place: Place): { claim: number; inputs: Float64Array[] } | null {
  const bench = new Bench(subject.program, subject.claims);
  const long = subject.figures.releaseSteps + 3;
  const fill = (what: Then[number]): Then => new Array<Then[number]>(long).fill(what);
  const plans: Then[] = [
    ['place', ...fill('calm')],
    fill('place'),
    fill('release'),
    ['release', 'place', ...fill('release')],
    ['calm', 'calm', ...fill('place')],
  ];
  for (const plan of plans) {
    const found = run(subject, bench, place, plan, null);
    if (found !== null) return found;
  }
  // What the solver gives to the other inputs may end the run before it gets anywhere: each of them alone.
  for (const input of subject.program.inputs.keys()) {
    const found = run(subject, bench, place, fill('place'), input);
    if (found !== null) return found;
  }
  return null;
}

/** The longest way to a place: the followed speed comes down, the conditions hold, the button is pressed, the orders move. */
const LONGEST = 4000;

function run(
  { program, figures: f, claims }: Subject,
  bench: Bench,
  place: Place,
  plan: Then,
  only: number | null,
): { claim: number; inputs: Float64Array[] } | null {
  const at = new Map([...guardInputs(f).keys()].map((name, i) => [name, i]));
  const stateAt = (name: string) => program.states.findIndex((s) => s.name === name);
  const target = new Map(f.channels.map((c) => [c.key, place.state[stateAt(`${c.key}_held`)] ?? 0] as const));
  const speed = Math.min(f.speedMax, place.state[stateAt('speed_followed')] ?? 0);
  const clock = at.get('clock_ms') as number;
  const spacing = (place.inputs[clock]! - place.state[stateAt('clock_held')]! + 2 ** 32) % 2 ** 32;
  const state = bench.compiled.initial();
  const done: Float64Array[] = [];
  let now = 0;
  let mode = 0;
  let next = 0;
  while (done.length < LONGEST && next < plan.length) {
    const armed = mode === modeNumber('armed');
    const there =
      next > 0 || (armed && f.channels.every((c) => state[stateAt(`${c.key}_held`)] === target.get(c.key)));
    const what = there ? plan[next++]! : 'calm';
    const inputs = new Float64Array(program.inputs.length);
    const set = (name: string, value: number) => {
      const index = at.get(name);
      if (index !== undefined) inputs[index] = value;
    };
    if (what === 'place' && only === null) inputs.set(place.inputs);
    else {
      set('request', what === 'release' ? 0 : 1);
      set('speed', speed);
      for (const [key, value] of target) {
        set(names(key).command, value);
        set(names(key).measured, value);
      }
      if (f.supply) set('supply', f.supply.high);
      set('arm_input', !armed && mode === modeNumber('ready') ? 1 : 0);
      if (what === 'place' && only !== null) inputs[only] = place.inputs[only]!;
    }
    now = (now + (what === 'place' && spacing <= 10 * f.stepMs ? spacing : f.stepMs)) % 2 ** 32;
    inputs[clock] = now;
    done.push(inputs);
    bench.step(state, inputs);
    mode = bench.mode;
    const claim = claims.findIndex((_, i) => bench.broken(i));
    if (claim >= 0) return { claim, inputs: done };
  }
  return null;
}
