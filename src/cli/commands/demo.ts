import { join, relative } from 'node:path';
import { Command } from 'commander';
import { packageRoot } from '../../build/packageRoot.ts';
import { grouped } from '../print.ts';
import { stage } from '../progress.ts';
import { type RunOptions, runAndServe } from './run.ts';

export function demo(): Command {
  return new Command('demo')
    .description('make the recordings of the demo build, which is invented, and run its whole line')
    .option('--no-serve', 'stop after the job')
    .option('--port <number>', 'loopback port of the workbench; any free one if not given')
    .option('--no-browser', 'do not start a browser')
    .addHelpText('after', '\nExample:\n  bywright demo --no-serve')
    .action(async (options: RunOptions) => {
      const folder = relative(process.cwd(), join(packageRoot(), 'demo')) || '.';
      const step = stage('Recording');
      const { generateDemo } = await import('../../../demo/generator/index.ts');
      const written = await generateDemo(folder);
      const frames = written.reduce((n, w) => n + w.frames, 0);
      step.done(
        written.length > 0
          ? `${written.length} invented captures, ${grouped(frames)} frames`
          : 'the invented captures are there',
      );
      await runAndServe(folder, options);
    });
}
