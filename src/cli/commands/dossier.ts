import { Command } from 'commander';
import { dossierText } from '../../build/dossierOf.ts';
import { writeFileAtomic } from '../../build/save.ts';
import { printJson, printLine } from '../print.ts';

export function dossier(): Command {
  return new Command('dossier')
    .description('write the printed record: one self-contained HTML file that prints to A4 and Letter')
    .argument('<build>', 'folder of the build')
    .argument('<out>', 'HTML file to write')
    .option('--json', 'print what was written as JSON')
    .addHelpText('after', '\nExample:\n  bywright dossier demo wagtail.html')
    .action(async (folder: string, out: string, options: { json?: boolean }) => {
      const html = await dossierText(folder, new Date());
      await writeFileAtomic(out, html);
      if (options.json) return printJson({ form: 'written/1', folder, files: [out] });
      printLine(
        `${out}: ${Math.round(html.length / 1024)} KiB. It says what was shown and what was not; it approves nothing.`,
      );
    });
}
