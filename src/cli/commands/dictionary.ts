import { basename } from 'node:path';
import { Command, InvalidArgumentError, Option } from 'commander';
import { asImported, planImport, saveImport } from '../../build/dictionaryExchange/apply.ts';
import {
  DEFINITION_FORMATS,
  DefinitionsError,
  type DefinitionsRead,
  formatOf,
  readDefinitions,
} from '../../build/dictionaryExchange/read.ts';
import { definitionsFile, dictionariesOf } from '../../build/dictionaryExchange/write.ts';
import { writeFileAtomic } from '../../build/save.ts';
import type { MergeItem } from '../../dictionary/merge.ts';
import {
  COLUMNS,
  CONVENTIONS,
  type Convention,
  columnWords,
  type Meaning,
} from '../../dictionary/tables/index.ts';
import { EXIT } from '../exit.ts';
import { usableBuild } from '../inputs.ts';
import { refuseToReplace } from '../outputs.ts';
import { counted, printJson, printLine, printTable } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';

export function dictionary(): Command {
  return new Command('dictionary')
    .helpCommand(false)
    .description('give message definitions to others, or take theirs in: CSV, spreadsheet, AUTOSAR, YAML')
    .addHelpText('after', '\nExample:\n  bywright dictionary export demo column.csv --bus column')
    .addCommand(exportDictionary())
    .addCommand(importDictionary());
}

const FORMATS = Object.entries(DEFINITION_FORMATS)
  .map(([name, words]) => `  .${name.padEnd(7)}${words}`)
  .join('\n');

interface ExportOptions {
  bus?: string;
  json?: boolean;
}

function exportDictionary(): Command {
  return new Command('export')
    .description('write the dictionaries of a build in another format')
    .argument('<build>', 'folder of the build')
    .argument('<out>', 'file to write; its ending says the format')
    .option('--bus <name>', 'only the dictionary of this bus; default all')
    .option('--json', 'print what was written as JSON')
    .addHelpText(
      'after',
      `
Formats:
${FORMATS}

Every format holds all of a dictionary; read back, it gives the same.

Example:
  bywright dictionary export demo chassis.xlsx --bus chassis`,
    )
    .action(async (folder: string, out: string, options: ExportOptions) => {
      const signal = stopOnInterrupt();
      const build = await usableBuild(folder);
      const format = formatOf(out);
      const chosen = dictionariesOf(build, options.bus);
      await refuseToReplace(out, []);
      const content = definitionsFile(build, format, options.bus);
      signal.throwIfAborted();
      await writeFileAtomic(out, content);
      const messages = chosen.reduce((n, d) => n + d.messages.length, 0);
      const signals = chosen.flatMap((d) => d.messages.flatMap((m) => m.signals));
      const proposed = signals.filter((s) => s.state === 'proposed').length;
      if (options.json)
        return printJson({
          form: 'exportedDefinitions/1',
          out,
          format,
          buses: chosen.map((d) => d.bus),
          messages,
          signals: signals.length,
          proposed,
        });
      printLine(
        `${out}: ${counted(messages, 'message')}, ${counted(signals.length, 'signal')} of ${chosen.map((d) => d.bus).join(', ')}`,
      );
      if (proposed > 0)
        printLine(
          `caution: ${counted(proposed, 'signal is', 'signals are')} only proposed; another program will not see the difference.`,
        );
    });
}

interface ImportOptions {
  bus: string;
  columns?: Map<Meaning, string>;
  startBit?: Convention;
  id?: 'hex' | 'decimal';
  byteOrder?: 'little' | 'big';
  sheet?: string;
  fileBus?: string;
  accept?: boolean;
  asAccepted?: boolean;
  leaveMisfits?: boolean;
  json?: boolean;
}

function importDictionary(): Command {
  return new Command('import')
    .description('show what a file of message definitions would do to a dictionary; --accept does it')
    .argument('<build>', 'folder of the build')
    .argument('<file>', 'file with message definitions; its ending says the format')
    .requiredOption('--bus <name>', 'bus of the build that the definitions are for')
    .option(
      '--columns <list>',
      'what columns mean where the guess is wrong: start="Bit pos",unit=H,sender=none',
      columns,
    )
    .addOption(
      new Option('--start-bit <numbering>', 'how the table numbers start bits').choices(
        Object.keys(CONVENTIONS),
      ),
    )
    .addOption(
      new Option('--id <base>', 'how identifiers without 0x are written').choices(['hex', 'decimal']),
    )
    .addOption(new Option('--byte-order <order>', 'byte order of all fields').choices(['little', 'big']))
    .option('--sheet <name>', 'sheet of a spreadsheet; default the first')
    .option('--file-bus <name>', 'which bus of the file is meant, where it has several')
    .option('--accept', 'write what is added and changed into the dictionary; conflicts are never written')
    .option(
      '--as-accepted',
      'take signals in as accepted instead of proposed; counters and check fields have no such state',
    )
    .option('--leave-misfits', 'write the rest although some of the file does not fit')
    .option('--json', 'print the result as JSON')
    .addHelpText(
      'after',
      `
Formats:
${FORMATS}

Meanings of columns:
  ${Object.keys(COLUMNS).join(', ')}

Numberings of start bits:
${Object.entries(CONVENTIONS)
  .map(([name, words]) => `  ${name.padEnd(24)}${words}`)
  .join('\n')}

What a file says was not seen on your bus: hold it against a recording (bywright decode, find) before you accept it.

Example:
  bywright dictionary import demo signals.xlsx --bus chassis --columns start=Startbit`,
    )
    .action(async (folder: string, path: string, options: ImportOptions) => {
      const signal = stopOnInterrupt();
      const build = await usableBuild(folder);
      if (!build.buses.some((b) => b.name === options.bus))
        throw new DefinitionsError(
          `the build has no bus "${options.bus}"; it has ${build.buses.map((b) => b.name).join(', ')}`,
        );
      const read = await readDefinitions(path, options.bus, options);
      const source = `imported from ${basename(path)} (sha256 ${read.sha256})`;
      const incoming = asImported(read.dictionary, source, options.asAccepted ? 'accepted' : 'proposed');
      const plan = await planImport(folder, options.bus, incoming);
      const fresh = plan.items.filter((item) => item.kind !== 'conflict');
      const conflicts = plan.items.length - fresh.length;
      const why = refusal(read, options);
      const accepted = options.accept === true && why === null && fresh.length > 0;
      signal.throwIfAborted();
      if (accepted) await saveImport(folder, plan);
      if (read.problems.length > 0 || read.questions.length > 0 || conflicts > 0)
        process.exitCode = EXIT.notShown;
      if (options.json) {
        const { dictionary: _, ...rest } = read;
        const items = plan.items.map(({ edit: __, ...item }) => item);
        return printJson({
          form: 'definitions/1',
          file: path,
          bus: options.bus,
          ...rest,
          same: plan.same,
          items,
          accepted,
        });
      }
      print(path, read, plan.items, plan.same);
      printLine();
      if (accepted)
        return printLine(
          `Written: ${plan.file}, ${counted(fresh.length, 'entry', 'entries')}; ${closing(incoming, options)}`,
        );
      if (options.accept && why !== null) return printLine(`Nothing was written: ${why}`);
      if (fresh.length === 0)
        return printLine(`Nothing to write: ${plan.file} has it all, or stands against it.`);
      printLine(
        `Nothing was written. With --accept, ${counted(fresh.length, 'entry', 'entries')} would go into ${plan.file}; ${closing(incoming, options)}`,
      );
    });
}

/** Why --accept is not done; null where nothing is against it. */
function refusal(read: DefinitionsRead, options: ImportOptions): string | null {
  if (read.questions.length > 0)
    return `answer what is asked above first (${counted(read.questions.length, 'question')}).`;
  if (read.problems.length === 0 || options.leaveMisfits) return null;
  return `mend what does not fit (${counted(read.problems.length, 'place')}), or say --leave-misfits to take the rest.`;
}

function closing(
  incoming: { messages: { counter?: unknown; check?: unknown }[] },
  options: ImportOptions,
): string {
  const held = incoming.messages.some((m) => m.counter !== undefined || m.check !== undefined);
  const signals = options.asAccepted ? 'signals as the file has them' : 'signals as proposed';
  return held
    ? `${signals}, counters and check fields at once: hold them against a recording.`
    : `${signals}.`;
}

function print(path: string, read: DefinitionsRead, items: readonly MergeItem[], same: number): void {
  printLine(
    `${path}: ${counted(read.dictionary.messages.length, 'message')}, ${counted(
      read.dictionary.messages.reduce((n, m) => n + m.signals.length, 0),
      'signal',
    )}`,
  );
  for (const line of read.columns) printLine(`  ${line}`);
  for (const note of read.notes) printLine(`  ${note}`);
  for (const { place, found, expected } of read.problems)
    printLine(`does not fit: ${place}: found ${found}; expected ${expected}.`);
  for (const question of read.questions) printLine(`question: ${question}.`);
  if (items.length > 0) {
    printLine();
    printTable(
      ['', 'message', 'entry', 'what'],
      items.map(({ kind, message, field, text }) => [kind, message, field, text]),
    );
  }
  if (same > 0) printLine(`${counted(same, 'entry is', 'entries are')} there already, alike.`);
}

function columns(words: string): Map<Meaning, string> {
  try {
    return columnWords(words);
  } catch (error) {
    throw new InvalidArgumentError((error as Error).message);
  }
}
