import { Command } from 'commander';
import { findAll, toFindingsForm } from '../../findings/index.ts';
import { findingsTable } from '../findingsTable.ts';
import { readCaptures } from '../inputs.ts';
import { printJson } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';

export function find(): Command {
  return new Command('find')
    .description(
      'work out messages, signals, counters and check fields from captures, each with a probability',
    )
    .argument('<capture...>', 'recordings of one car, any readable format')
    .option(
      '--columns <names>',
      'columns of a text capture where the guess is wrong, e.g. time,bus,id,ext,data',
    )
    .option('--json', 'print the form findings/1')
    .addHelpText('after', '\nExample:\n  bywright find captures/drive-1.pcapng')
    .action(async (paths: string[], options: { columns?: string; json?: boolean }) => {
      const signal = stopOnInterrupt();
      const { capture } = await readCaptures(paths, { columns: options.columns, signal });
      const step = stage('Finding');
      const findings = await findAll(capture, { signal, onProgress: (done) => step.update(done) });
      const counters = findings.messages.filter((m) => m.counter).length;
      const checks = findings.messages.filter((m) => m.check).length;
      step.done(`${findings.messages.length} messages, ${counters} counters, ${checks} check fields`);
      if (options.json) printJson(toFindingsForm(findings));
      else findingsTable(findings);
    });
}
