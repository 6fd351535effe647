import { basename, resolve } from 'node:path';
import { Command } from 'commander';
import { createBuild } from '../../build/newBuild.ts';
import { printJson, printLine, typed } from '../print.ts';

export function newBuild(): Command {
  return new Command('new')
    .description('start a build: a folder of plain text files that describe one conversion')
    .argument('<folder>', 'new or empty folder')
    .option('--title <text>', 'what the conversion is called')
    .option('--json', 'print the files written as JSON')
    .addHelpText('after', '\nExample:\n  bywright new my-van --title "Delivery van, by-wire conversion"')
    .action(async (folder: string, options: { title?: string; json?: boolean }) => {
      const written = await createBuild(folder, options.title ?? basename(resolve(folder)));
      if (options.json) return printJson({ form: 'written/1', folder: resolve(folder), files: written });
      for (const file of written) printLine(file);
      printLine(`\nNext: fill in the figures, then \`bywright check ${typed(folder)}\`.`);
    });
}
