import { Command } from 'commander';
import { writeProject } from '../../build/firmwareFiles.ts';
import { firmwareOf } from '../../build/firmwareOf.ts';
import { FirmwareError } from '../../firmware/project.ts';
import { EXIT } from '../exit.ts';
import { usableBuild } from '../inputs.ts';
import { printJson, printLine, typed } from '../print.ts';

export function firmware(): Command {
  return new Command('firmware')
    .description('write the C99 project of gateway and guard; armable only when every obligation is proved')
    .argument('<build>', 'folder of the build')
    .argument('<out>', 'new or empty folder, or one with an earlier project')
    .option('--bench', 'the bench form: every actuator output held released')
    .option('--json', 'print the files written as JSON')
    .addHelpText('after', '\nExample:\n  bywright firmware demo firmware-out')
    .action(async (folder: string, out: string, options: { bench?: boolean; json?: boolean }) => {
      const build = await usableBuild(folder);
      const form = options.bench ? 'bench' : 'armable';
      try {
        const files = await firmwareOf(build, form);
        await writeProject(out, files);
        if (options.json) {
          return printJson({ form: 'firmware/1', kind: form, folder: out, files: files.map((f) => f.path) });
        }
        for (const f of files) printLine(`${out}/${f.path}`);
        printLine(
          `\nThe ${form} form, ${files.length} files. Read ${out}/README.md before you flash anything.`,
        );
      } catch (error) {
        if (!(error instanceof FirmwareError)) throw error;
        process.exitCode = EXIT.notShown;
        process.stderr.write('bywright: no armable project is written, because\n');
        for (const reason of error.reasons) process.stderr.write(`  ${reason}\n`);
        const remedy = build.guard
          ? `Prove the guard (\`bywright prove ${typed(folder)}\`)`
          : 'Give the build a guard.yaml';
        process.stderr.write(`${remedy}, or write the bench form with --bench.\n`);
      }
    });
}
