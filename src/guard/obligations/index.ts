/**
 * What the guard owes, as a logic program of its own that watches the guard's inputs and outputs. It runs beside the
 * guard in simulation and in tests of the C, and is what the proof is about. One file per subject, one line in the list.
 */
import { ProgramBuilder } from '../../logic/builder.ts';
import type { Program } from '../../logic/form.ts';
import type { SteeringFigures } from '../figures.ts';
import { arming } from './arming.ts';
import { clock } from './clock.ts';
import { limits } from './limits.ts';
import { release } from './release.ts';
import { trip } from './trip.ts';
import { type Obligation, type Watch, watch } from './watch.ts';

export { specFigures } from './spec.ts';

const SUBJECTS: ((w: Watch) => Obligation[])[] = [limits, release, arming, trip, clock];

export interface Observed {
  name: string;
  sentence: string;
  /** Names of the observer's outputs. */
  when: string;
  must: string;
}

export interface Observer {
  /** Inputs: those of the guard and its outputs, by name. */
  program: Program;
  obligations: Observed[];
}

/** The observer of a steering guard; `figures` come from `specFigures`, not from the guard. */
export function steeringObserver(figures: SteeringFigures): Observer {
  const b = new ProgramBuilder('steering_observer', 'Watches what the steering guard owes.');
  const w = watch(b, figures);
  const owed = SUBJECTS.flatMap((subject) => subject(w));
  const obligations = owed.map(({ name, sentence, when, must }): Observed => {
    const word = name.replace(/[^a-z0-9]/g, '_');
    b.output(`when_${word}`, when);
    b.output(`must_${word}`, must);
    return { name, sentence, when: `when_${word}`, must: `must_${word}` };
  });
  return { program: b.finish(), obligations };
}
