import { Command } from 'commander';
import { EXIT } from '../exit.ts';
import { stopOnInterrupt } from '../progress.ts';
import { type ServeOptions, serve } from './open.ts';

export type RunOptions = Omit<ServeOptions, 'json'> & { serve?: boolean };

export function run(): Command {
  return new Command('run')
    .description('the whole line of a build, from its recordings to the dossier, then the workbench')
    .argument('[build]', 'folder of the build', '.')
    .option('--no-serve', 'stop after the job')
    .option('--port <number>', 'loopback port of the workbench; any free one if not given')
    .option('--no-browser', 'do not start a browser')
    .addHelpText('after', '\nExample:\n  bywright run demo --no-serve')
    .action((folder: string, options: RunOptions) => runAndServe(folder, options));
}

/** Runs the line, prints the summary, then serves unless told not to. */
export async function runAndServe(folder: string, options: RunOptions): Promise<void> {
  // Loaded only where it is needed, as are the dossier and the server: they are most of the program.
  const { printSummary, runLine } = await import('../line.ts');
  const result = await runLine(folder, stopOnInterrupt());
  printSummary(result);
  const open = result.proof?.obligations.some((o) => o.status !== 'proved') ?? false;
  if (open || (result.budget?.channels.some((c) => c.leastMargin < 0) ?? false))
    process.exitCode = EXIT.notShown;
  if (options.serve !== false) await serve(folder, options);
}
