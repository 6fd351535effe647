/**
 * The command line: one file per command under `commands/`, each a line in the list below.
 * Results go to standard output, progress and errors to standard error; exit codes are in `exit.ts`.
 */
import { existsSync } from 'node:fs';
import { Command, CommanderError } from 'commander';
import { toolVersion } from '../build/version.ts';
import { commands } from './commands/index.ts';
import { EXIT, sentenceOf } from './exit.ts';
import { stopOnInterrupt } from './progress.ts';

/** Runs one command line (without `node` and the script) and sets the exit code of the process. */
export async function main(argv: readonly string[]): Promise<void> {
  watchStreams();
  process.once('uncaughtException', (error) => {
    process.stderr.write(`bywright: ${sentenceOf(error)}\n`);
    process.exit(EXIT.badInput);
  });
  // From the first moment on, so that Ctrl-C never cuts a write in two.
  stopOnInterrupt();
  try {
    await program(argv).parseAsync([...argv], { from: 'user' });
  } catch (error) {
    if (error instanceof CommanderError) {
      process.exitCode = error.exitCode === 0 ? EXIT.done : EXIT.badInput;
      return;
    }
    process.stderr.write(`bywright: ${sentenceOf(error)}\n`);
    process.exitCode = (error as { name?: string }).name === 'AbortError' ? EXIT.stopped : EXIT.badInput;
  }
}

function watchStreams(): void {
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    // A reader that has seen enough (`| head`) closes the pipe: that is no error.
    if (error.code === 'EPIPE' || error.code === 'ECONNRESET') process.exit(process.exitCode ?? EXIT.done);
    const why = sentenceOf(error).replace(/^a file: |;.*/g, '');
    process.stderr.write(`bywright: standard output: ${why}; what was printed is not whole\n`);
    process.exit(EXIT.badInput);
  });
  // Who reads no progress gets the results all the same.
  process.stderr.on('error', () => {});
}

function program(argv: readonly string[]): Command {
  const root = new Command('bywright')
    .description(
      'From recordings to decoded messages, a gateway plan, proved limits, C and a dossier for one by-wire conversion.',
    )
    .version(toolVersion(), '--version', 'print the version')
    .helpCommand(false)
    .addHelpText(
      'after',
      `
Exit codes: 0 done; 1 done, but something was not shown or is wrong in the build; 2 bad input or usage; 3 stopped on request.
A by-wire car can kill. What is printed here was computed from your figures; it is no approval. Local law, type approval
and a licensed engineer decide what may be driven.`,
    );
  for (const command of commands) root.addCommand(command());
  for (const [command, words] of withWords(root, 'bywright')) {
    command
      .exitOverride()
      .helpOption('--help', 'print this help')
      .showSuggestionAfterError(true)
      .configureOutput({
        outputError: (text, write) =>
          write(
            `${text.replace(/^error: /, 'bywright: ')}${hint(argv)}\`${words} --help\` shows what it takes.\n`,
          ),
      });
  }
  return root;
}

/** Every command with the words that call it, those inside others too. */
function withWords(command: Command, words: string): [Command, string][] {
  return [
    [command, words],
    ...command.commands.flatMap((inner) => withWords(inner, `${words} ${inner.name()}`)),
  ];
}

/** A file whose name starts with - is taken for an option. */
function hint(argv: readonly string[]): string {
  const file = argv.find((word) => word.startsWith('-') && existsSync(word));
  return file ? `The file ${file} is named ./${file} on a command line. ` : '';
}
