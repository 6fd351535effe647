import { Command } from 'commander';
import { writeFileAtomic } from '../../build/save.ts';
import { EXIT } from '../exit.ts';
import { openPoints } from '../openPoints.ts';
import { refuseToReplace } from '../outputs.ts';
import { printJson, printLine } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';

export function dossier(): Command {
  return new Command('dossier')
    .description('write the printed record: one self-contained HTML file that prints to A4 and Letter')
    .argument('<build>', 'folder of the build')
    .argument('<out>', 'HTML file to write, replaced if it is there')
    .option('--json', 'print what was written as JSON')
    .addHelpText('after', '\nExample:\n  bywright dossier demo wagtail.html')
    .action(async (folder: string, out: string, options: { json?: boolean }) => {
      const signal = stopOnInterrupt();
      await refuseToReplace(out, []);
      const { dossierText } = await import('../../build/dossierOf.ts');
      const html = await dossierText(folder, new Date());
      const open = await openPoints(folder);
      signal.throwIfAborted();
      await writeFileAtomic(out, html);
      if (open.length > 0) process.exitCode = EXIT.notShown;
      if (options.json) return printJson({ form: 'written/1', folder, files: [out] });
      printLine(
        `${out}: ${Math.round(html.length / 1024)} KiB. It says what was shown and what was not; it approves nothing.`,
      );
      for (const point of open) printLine(`not shown: ${point}`);
    });
}
