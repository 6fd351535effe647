import { Command } from 'commander';
import { formatId } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { findAll, findSenders, toFindingsForm } from '../../findings/index.ts';
import type { Findings } from '../../findings/model.ts';
import { findingsTable } from '../findingsTable.ts';
import { readCaptures } from '../inputs.ts';
import { messageFields } from '../messageFields.ts';
import { counted, printJson } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';
import { sendersTable } from '../sendersTable.ts';

/** The capture has no message of that identifier; the message says which there are. */
export class NoMessageError extends Error {
  override name = 'NoMessageError';
}

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
    .option('--message <id>', 'every field of one message with its probability and evidence, e.g. 1A0')
    .option(
      '--senders',
      'which messages are sent from one clock, how many units there may be, what comes after what',
    )
    .option('--json', 'print the form findings/1')
    .addHelpText('after', '\nExample:\n  bywright find captures/drive-1.pcapng')
    .action(async (paths: string[], options: FindCommandOptions) => {
      const signal = stopOnInterrupt();
      const { capture } = await readCaptures(paths, { columns: options.columns, signal });
      if (options.senders && !options.json && options.message === undefined) {
        await senders(capture, signal);
        return;
      }
      const step = stage('Finding');
      const findings = await findAll(capture, { signal, onProgress: (done) => step.update(done) });
      signal.throwIfAborted();
      const counters = findings.messages.filter((m) => m.counter).length;
      const checks = findings.messages.filter((m) => m.check).length;
      step.done(
        `${counted(findings.messages.length, 'message')}, ${counted(counters, 'counter')}, ${counted(checks, 'check field')}`,
      );
      const shown = options.message === undefined ? findings : onlyMessage(findings, options.message);
      if (options.json) printJson(toFindingsForm(shown));
      else if (options.message === undefined) findingsTable(shown);
      else shown.messages.forEach(messageFields);
    });
}

interface FindCommandOptions {
  columns?: string;
  message?: string;
  senders?: boolean;
  json?: boolean;
}

async function senders(capture: Capture, signal: AbortSignal): Promise<void> {
  const step = stage('Senders');
  const found = await findSenders(capture, { signal, onProgress: (done) => step.update(done) });
  signal.throwIfAborted();
  const placed = found.messages.filter((m) => m.notPlaced === null).length;
  step.done(`${placed} of ${counted(found.messages.length, 'message')} placed`);
  sendersTable(found);
}

/** The messages of one identifier, on whatever bus. */
function onlyMessage(findings: Findings, id: string): Findings {
  const digits = id.replace(/^0x/i, '').toUpperCase();
  const plain = digits.padStart(digits.length > 3 ? 8 : 3, '0');
  const named = (m: Findings['messages'][number]) => formatId(m.id, m.extended);
  const messages = findings.messages.filter((m) => named(m) === plain);
  if (messages.length > 0) return { ...findings, messages };
  const there = [...new Set(findings.messages.map(named))].join(', ');
  throw new NoMessageError(
    `no message "${id}" in this capture: an identifier has 3 hex digits, or 8 where it is extended; there are ${there}`,
  );
}
