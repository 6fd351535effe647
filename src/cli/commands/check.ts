import { Command } from 'commander';
import { contradictionSentence } from '../../build/contradictions.ts';
import { loadBuild } from '../../build/load.ts';
import { problemSentence } from '../../build/problem.ts';
import { formatId } from '../../can/frame.ts';
import { refuseNoBuild } from '../buildFolder.ts';
import { EXIT } from '../exit.ts';
import { counted, printJson, printLine } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';
import { contradictionsOf } from '../retested.ts';

export function check(): Command {
  return new Command('check')
    .description(
      'read every file of a build and list all that is wrong, with file, line and remedy; then what recordings contradict',
    )
    .argument('[build]', 'folder of the build', '.')
    .option('--files', 'only the files: leave the recordings unread')
    .option('--json', 'print the problems as JSON')
    .addHelpText('after', '\nExample:\n  bywright check demo')
    .action(async (folder: string, options: { json?: boolean; files?: boolean }) => {
      const { build, problems } = await loadBuild(folder);
      refuseNoBuild(folder, problems);
      const wrong = problems.filter((p) => p.weight !== 'caution').length;
      if (wrong > 0) process.exitCode = EXIT.notShown;
      const signal = stopOnInterrupt();
      const tested =
        build === null || wrong > 0 || options.files ? null : await contradictionsOf(build, signal);
      const contradictions = tested?.contradictions ?? [];
      if (options.json) {
        const told = contradictions.map(({ id, extended, ...rest }) => ({
          id: formatId(id, extended),
          ...rest,
        }));
        return printJson({ form: 'problems/1', folder, problems, contradictions: told });
      }
      for (const p of problems)
        printLine(`${p.weight === 'caution' ? 'caution: ' : ''}${problemSentence(p)}`);
      for (const c of contradictions) printLine(`contradicted: ${contradictionSentence(c)}`);
      if (wrong > 0 || !build) return printLine(`\n${wrong} to mend.`);
      const signals = build.dictionaries.flatMap((d) => d.messages.flatMap((m) => m.signals));
      const cautions = problems.length > 0 ? `, ${counted(problems.length, 'caution')} to think about` : '';
      printLine(
        `${build.file.title}: nothing to mend in its files${cautions}. ${counted(build.buses.length, 'bus', 'buses')}, ${counted(build.units.length, 'unit')}, ` +
          `${counted(signals.filter((s) => s.state === 'accepted').length, 'accepted signal')}, ${counted(build.captures.length, 'capture')}.`,
      );
      if (tested)
        printLine(
          contradictions.length === 0
            ? `No accepted entry is contradicted by ${counted(tested.captures.length, 'capture')}.`
            : `${counted(contradictions.length, 'contradiction')} of accepted entries by recordings: the entry is wrong, or something was done that it has to allow for.`,
        );
    });
}
