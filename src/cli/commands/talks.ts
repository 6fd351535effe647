import { Command, InvalidArgumentError } from 'commander';
import { FLAG, idKey, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import { conversationsOf, type IsoTpPair } from '../../capture/conversations.ts';
import { readCaptures } from '../inputs.ts';
import { grouped, printJson } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';
import { talksForm } from '../talksForm.ts';
import { talksTable } from '../talksTable.ts';

export function talks(): Command {
  return new Command('talks')
    .description(
      'show what units say to each other in several frames, and asked: diagnostics, J1939 and NMEA 2000 transfers and requests',
    )
    .argument('<capture...>', 'recordings of one car, any readable format')
    .option(
      '--pair <ids>',
      'identifiers of a request and its answer beside those of the standards, e.g. 614:654; with an address byte in front, 6F1:612:address',
      (text: string, before: IsoTpPair[]) => [...before, pairOf(text)],
      [] as IsoTpPair[],
    )
    .option('--columns <names>', 'columns of a text capture where the guess is wrong')
    .option('--all', 'print every exchange and fault instead of the first twenty')
    .option('--json', 'print the form talks/1')
    .addHelpText('after', '\nExample:\n  bywright talks captures/service-visit.pcapng --pair 614:654')
    .action(
      async (
        paths: string[],
        options: { pair: IsoTpPair[]; columns?: string; all?: boolean; json?: boolean },
      ) => {
        const signal = stopOnInterrupt();
        const { capture } = await readCaptures(paths, { columns: options.columns, signal });
        const step = stage('Listening');
        const heard = conversationsOf(capture, {
          pairs: options.pair,
          signal,
          onProgress: (share) => step.update(share),
        });
        step.done(
          `${grouped(heard.transfers.count)} transfers, ${grouped(heard.exchanges.count)} exchanges, ${grouped(heard.faultCount)} faults`,
        );
        if (options.json) printJson(talksForm(capture, heard));
        else talksTable(capture, heard, options.all ? Number.POSITIVE_INFINITY : 20);
      },
    );
}

function pairOf(text: string): IsoTpPair {
  const [request = '', answer = '', how] = text.split(':');
  const typeAt = how === undefined ? 0 : how === 'address' ? 1 : null;
  const keys = [request, answer].map(keyOf);
  if (typeAt === null || keys.some((key) => key === null)) {
    throw new InvalidArgumentError(
      `"${text}" is no pair; right would be two hex identifiers of 3 or 8 digits, 614:654, or 6F1:612:address.`,
    );
  }
  return { request: keys[0] as number, answer: keys[1] as number, typeAt };
}

/** Three digits are 11 bits, eight are 29, as identifiers are written everywhere. */
function keyOf(text: string): number | null {
  if (!/^([0-9a-f]{3}|[0-9a-f]{8})$/i.test(text)) return null;
  const id = Number.parseInt(text, 16);
  const extended = text.length === 8;
  return id <= (extended ? MAX_EXTENDED_ID : MAX_BASE_ID) ? idKey(id, extended ? FLAG.extended : 0) : null;
}
