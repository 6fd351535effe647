/**
 * What the guard owes, as a logic program of its own that watches the guard's inputs and outputs. It runs beside the
 * guard in simulation and in tests of the C, and is what the proof is about. One file per subject, one line in the list.
 */
import { NameScope } from '../../bridge/names.ts';
import { ProgramBuilder } from '../../logic/builder.ts';
import type { Program } from '../../logic/form.ts';
import type { GuardFigures } from '../figures.ts';
import { arming } from './arming.ts';
import { clock } from './clock.ts';
import { drive } from './drive.ts';
import { limits } from './limits.ts';
import { release } from './release.ts';
import { remote } from './remote.ts';
import { trip } from './trip.ts';
import { type Obligation, type Watch, watch } from './watch.ts';

export { specFigures } from './spec.ts';

const SUBJECTS: ((w: Watch) => Obligation[])[] = [limits, drive, remote, release, arming, trip, clock];

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

/** The observer of a guard; `figures` come from `specFigures`, not from the guard. */
export function guardObserver(figures: GuardFigures): Observer {
  const b = new ProgramBuilder('guard_observer', 'Watches what the guard owes.');
  const w = watch(b, figures);
  const owed = SUBJECTS.flatMap((subject) => subject(w));
  const words = new NameScope();
  const obligations = owed.map(({ name, sentence, when, must }): Observed => {
    const word = words.give(name);
    b.output(`when_${word}`, when);
    b.output(`must_${word}`, must);
    return { name, sentence, when: `when_${word}`, must: `must_${word}` };
  });
  return { program: b.finish(), obligations };
}
