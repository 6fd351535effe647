/**
 * What only shows when files are seen together: names that do not exist, figures that contradict each other.
 * One file per check; a check looks at a build whose files each fit their schema.
 */
import type { Sources } from '../load.ts';
import type { Build, Problem } from '../model.ts';
import { busesCheck } from './buses.ts';
import { cuesCheck } from './cues.ts';
import { dictionariesCheck } from './dictionaries.ts';
import { hostCheck } from './host.ts';
import { plansCheck } from './plans.ts';
import { referencesCheck } from './references.ts';
import { unitsCheck } from './units.ts';

export type Check = (build: Build, sources: Sources) => Problem[];

export const CHECKS: readonly Check[] = [
  hostCheck,
  busesCheck,
  unitsCheck,
  dictionariesCheck,
  cuesCheck,
  referencesCheck,
  plansCheck,
];
