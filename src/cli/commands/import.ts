import { Command } from 'commander';
import { importCapture } from '../../build/importCapture.ts';
import { grouped, printJson, printLine } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';

export function importCaptures(): Command {
  return new Command('import')
    .description('read recordings and keep them in the captures/ folder of a build')
    .argument('<build>', 'folder of the build')
    .argument('<file...>', 'recordings in any readable format; they stay where they are')
    .option(
      '--columns <names>',
      'columns of a text recording where the guess is wrong, e.g. time,bus,id,ext,data',
    )
    .option('--json', 'print what was kept as JSON')
    .addHelpText('after', '\nExample:\n  bywright import my-van logs/monday.csv.gz')
    .action(async (folder: string, files: string[], options: { columns?: string; json?: boolean }) => {
      const signal = stopOnInterrupt();
      const kept = [];
      for (const file of files) {
        const step = stage('Importing');
        const done = await importCapture(folder, file, {
          columns: options.columns,
          signal,
          onProgress: (bytes, total) => step.update(total > 0 ? bytes / total : 0),
        });
        step.done(`${file}: ${done.guess}`);
        kept.push(done);
      }
      if (options.json) return printJson({ form: 'imported/1', captures: kept });
      for (const k of kept) {
        printLine(`captures/${k.name}: ${grouped(k.frames)} frames, ${k.seconds.toFixed(1)} s`);
        for (const note of k.notes) printLine(`  note: ${note}`);
      }
    });
}
