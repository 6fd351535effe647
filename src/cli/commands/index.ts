/** The commands, in the order of the job: adding one is adding its file and a line here. */
import type { Command } from 'commander';
import { find } from './find.ts';

export const commands: (() => Command)[] = [find];
