/**
 * The command line: one file per command under `commands/`, each a line in the list below.
 * Results go to standard output, progress and errors to standard error; exit codes are in `exit.ts`.
 */
import { Command, CommanderError } from 'commander';
import { commands } from './commands/index.ts';
import { EXIT, sentenceOf } from './exit.ts';
import { toolVersion } from './version.ts';

/** Runs one command line (without `node` and the script) and sets the exit code of the process. */
export async function main(argv: readonly string[]): Promise<void> {
  // A reader that has seen enough (`| head`) closes the pipe: that is no error.
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') process.exit(process.exitCode ?? EXIT.done);
    throw error;
  });
  try {
    await program().parseAsync([...argv], { from: 'user' });
  } catch (error) {
    if (error instanceof CommanderError) {
      process.exitCode = error.exitCode === 0 ? EXIT.done : EXIT.badInput;
      return;
    }
    process.stderr.write(`bywright: ${sentenceOf(error)}\n`);
    process.exitCode = (error as { name?: string }).name === 'AbortError' ? EXIT.stopped : EXIT.badInput;
  }
}

function program(): Command {
  const root = new Command('bywright')
    .description(
      'From recordings to decoded messages, a gateway plan, proved limits, C and a dossier for one by-wire conversion.',
    )
    .version(toolVersion(), '--version', 'print the version')
    .helpOption('--help', 'print this help')
    .helpCommand(false)
    .showSuggestionAfterError(true)
    .exitOverride()
    .addHelpText(
      'after',
      `
Exit codes: 0 done; 1 done, but something was not shown or is wrong in the build; 2 bad input or usage; 3 stopped on request.
A by-wire car can kill. What is printed here was computed from your figures; it is no approval. Local law, type approval
and a licensed engineer decide what may be driven.`,
    );
  for (const command of commands)
    root.addCommand(command().exitOverride().helpOption('--help', 'print this help'));
  return root;
}
