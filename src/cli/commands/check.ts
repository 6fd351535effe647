import { Command } from 'commander';
import { loadBuild } from '../../build/load.ts';
import { problemSentence } from '../../build/problem.ts';
import { refuseNoBuild } from '../buildFolder.ts';
import { EXIT } from '../exit.ts';
import { counted, printJson, printLine } from '../print.ts';

export function check(): Command {
  return new Command('check')
    .description('read every file of a build and list all that is wrong, with file, line and remedy')
    .argument('[build]', 'folder of the build', '.')
    .option('--json', 'print the problems as JSON')
    .addHelpText('after', '\nExample:\n  bywright check demo')
    .action(async (folder: string, options: { json?: boolean }) => {
      const { build, problems } = await loadBuild(folder);
      refuseNoBuild(folder, problems);
      const wrong = problems.filter((p) => p.weight !== 'caution').length;
      if (wrong > 0) process.exitCode = EXIT.notShown;
      if (options.json) return printJson({ form: 'problems/1', folder, problems });
      for (const p of problems)
        printLine(`${p.weight === 'caution' ? 'caution: ' : ''}${problemSentence(p)}`);
      if (wrong > 0 || !build) return printLine(`\n${wrong} to mend.`);
      const signals = build.dictionaries.flatMap((d) => d.messages.flatMap((m) => m.signals));
      const cautions = problems.length > 0 ? `, ${counted(problems.length, 'caution')} to think about` : '';
      printLine(
        `${build.file.title}: nothing to mend in its files${cautions}. ${counted(build.buses.length, 'bus', 'buses')}, ${counted(build.units.length, 'unit')}, ` +
          `${counted(signals.filter((s) => s.state === 'accepted').length, 'accepted signal')}, ${counted(build.captures.length, 'capture')}.`,
      );
    });
}
