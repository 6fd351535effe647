import { Command } from 'commander';
import { formatId } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { compareCaptures, type Recording } from '../../findings/compare/index.ts';
import { findAll } from '../../findings/index.ts';
import { comparisonTable } from '../comparisonTable.ts';
import { readCaptures } from '../inputs.ts';
import { counted, printJson } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';

export function contrast(): Command {
  return new Command('contrast')
    .description(
      'what differs between two recordings: with a unit and without it, or of two versions, each with its chance',
    )
    .argument('<a>', 'recording to start from')
    .argument('<b>', 'recording that is held against it')
    .option('--columns <names>', 'columns of text captures where the guess is wrong')
    .option('--json', 'print the form contrast/1')
    .addHelpText('after', '\nExample:\n  bywright contrast with-unit.pcapng without-unit.pcapng')
    .action(async (a: string, b: string, options: { columns?: string; json?: boolean }) => {
      const signal = stopOnInterrupt();
      const { captures } = await readCaptures([a, b], { columns: options.columns, signal });
      const first = await recording('A', captures[0] as Capture, signal);
      const second = await recording('B', captures[1] as Capture, signal);
      const step = stage('Contrast');
      const result = await compareCaptures(first, second, {
        signal,
        onProgress: (done) => step.update(done),
      });
      signal.throwIfAborted();
      const sure = result.differences.filter((d) => d.sure).length;
      step.done(`${counted(sure, 'difference')} beyond chance`);
      if (!options.json) comparisonTable(result);
      else {
        const differences = result.differences.map(({ id, extended, ...rest }) => ({
          ...rest,
          id: formatId(id, extended),
          ext: extended ? 1 : 0,
        }));
        printJson({ form: 'contrast/1', ...result, differences });
      }
    });
}

async function recording(name: string, capture: Capture, signal: AbortSignal): Promise<Recording> {
  const step = stage(`Finding ${name}`);
  const findings = await findAll(capture, { signal, onProgress: (done) => step.update(done) });
  step.done(counted(findings.messages.length, 'message'));
  return { capture, findings };
}
