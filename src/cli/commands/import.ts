import { Command } from 'commander';
import { type ImportedCapture, importCapture } from '../../build/importCapture.ts';
import { EXIT, sentenceOf } from '../exit.ts';
import { counted, printJson, printLine } from '../print.ts';
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
      const kept: ImportedCapture[] = [];
      const refused: { file: string; sentence: string }[] = [];
      for (const file of files) {
        const step = stage('Importing');
        try {
          const done = await importCapture(folder, file, {
            columns: options.columns,
            signal,
            onProgress: (bytes, total) => step.update(total > 0 ? bytes / total : 0),
          });
          step.done(`${file}: ${done.guess}`);
          kept.push(done);
        } catch (error) {
          // One bad recording of many keeps nobody from having the others.
          if (signal.aborted || files.length === 1) throw error;
          const sentence = sentenceOf(error);
          refused.push({ file, sentence });
          process.stderr.write(`bywright: ${sentence}\n`);
        }
      }
      if (refused.length > 0) process.exitCode = EXIT.badInput;
      if (options.json)
        return printJson({ form: 'imported/1', captures: kept, ...(refused.length > 0 ? { refused } : {}) });
      for (const k of kept) {
        printLine(`captures/${k.name}: ${counted(k.frames, 'frame')}, ${k.seconds.toFixed(1)} s`);
        for (const note of k.notes) printLine(`  note: ${note}`);
      }
      if (refused.length > 0) printLine(`${refused.length} of ${files.length} recordings could not be kept.`);
    });
}
