/** The commands, in the order of the job: adding one is adding its file and a line here. */
import type { Command } from 'commander';
import { align } from './align.ts';
import { bridge } from './bridge.ts';
import { budget } from './budget.ts';
import { check } from './check.ts';
import { contrast } from './contrast.ts';
import { decode } from './decode.ts';
import { demo } from './demo.ts';
import { dictionary } from './dictionary.ts';
import { dossier } from './dossier.ts';
import { exportCapture } from './export.ts';
import { find } from './find.ts';
import { firmware } from './firmware.ts';
import { health } from './health.ts';
import { importCaptures } from './import.ts';
import { listen } from './listen.ts';
import { merge } from './merge.ts';
import { newBuild } from './new.ts';
import { open } from './open.ts';
import { prove } from './prove.ts';
import { queryBuild } from './query.ts';
import { run } from './run.ts';
import { talks } from './talks.ts';

export const commands: (() => Command)[] = [
  newBuild,
  check,
  importCaptures,
  listen,
  merge,
  find,
  contrast,
  decode,
  align,
  queryBuild,
  exportCapture,
  dictionary,
  talks,
  health,
  bridge,
  budget,
  prove,
  firmware,
  dossier,
  open,
  run,
  demo,
];
