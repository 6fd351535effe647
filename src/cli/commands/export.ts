import { existsSync } from 'node:fs';
import { basename, join } from 'node:path';
import { Command, InvalidArgumentError, Option } from 'commander';
import { writeCaptureFile } from '../../build/captureFile.ts';
import { cueCsv } from '../../build/cueCsv.ts';
import { FILE_FORMATS } from '../../build/fileFormats.ts';
import { CAPTURES_FOLDER } from '../../build/files.ts';
import type { Build } from '../../build/model.ts';
import { writeFileAtomic } from '../../build/save.ts';
import { type Selection, SelectionError, selectIn } from '../../build/selection.ts';
import { PACKINGS, type Packing } from '../../capture/formats/format.ts';
import { FORMATS } from '../../capture/formats/list.ts';
import { readCaptures, usableBuild } from '../inputs.ts';
import { refuseToReplace } from '../outputs.ts';
import { counted, grouped, printJson, printLine } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';

interface ExportOptions {
  bus?: string[];
  id?: string[];
  from?: number;
  to?: number;
  cue?: string[];
  format?: string;
  pack?: Packing;
  columns?: string;
  cues?: boolean;
  json?: boolean;
}

export function exportCapture(): Command {
  const formats = [...FORMATS.filter((f) => f.write), ...FILE_FORMATS];
  return new Command('export')
    .description('write a capture, or a selection of it, in another format')
    .argument('<build>', 'folder of the build')
    .argument('<capture>', 'file name in captures/, or a recording anywhere')
    .argument('<out>', 'file to write; its ending says the format')
    .option('--bus <name...>', 'only these buses, by name or number')
    .option('--id <hex...>', 'only these identifiers: 3 digits for 11 bits, 8 for 29 bits')
    .option('--from <seconds>', 'from this time after the first frame', seconds)
    .option('--to <seconds>', 'up to this time after the first frame', seconds)
    .option('--cue <name...>', 'only while one of these cues of the cue sheet lasts')
    .option('--format <name>', formats.map((f) => f.name).join(', '))
    .addOption(new Option('--pack <how>', 'pack inside the file, MDF 4 only').choices(PACKINGS))
    .option('--columns <names>', 'columns of a text capture where the guess is wrong')
    .option('--cues', 'write the cue sheet of the capture as CSV instead of its frames')
    .option('--json', 'print what was written as JSON')
    .addHelpText(
      'after',
      `
Formats:
${formats.map((f) => `  ${f.name.padEnd(9)}${f.words} (${f.extensions.join(' ')})`).join('\n')}

Example:
  bywright export demo drive-1.pcapng bend.csv --bus chassis --from 20 --to 35`,
    )
    .action(async (folder: string, capture: string, out: string, options: ExportOptions) => {
      const signal = stopOnInterrupt();
      const build = await usableBuild(folder);
      const inBuild = join(folder, CAPTURES_FOLDER, capture);
      const path = existsSync(inBuild) ? inBuild : capture;
      await refuseToReplace(out, [path]);
      if (options.cues) return exportCues(build, basename(path), out, options);
      const selection: Selection = {
        buses: options.bus,
        ids: options.id,
        fromS: options.from,
        toS: options.to,
        cues: options.cue,
      };
      const read = await readCaptures([path], { columns: options.columns, signal });
      const chosen = selectIn(build, basename(path), read.capture, selection);
      const step = stage('Writing');
      signal.throwIfAborted();
      const notes = await writeCaptureFile(out, chosen, options.format, undefined, {
        packing: options.pack,
        signal,
        onProgress: (done, total) => step.update(total > 0 ? done / total : 0),
      });
      step.done(out);
      for (const note of notes) process.stderr.write(`note: ${out}: ${note}\n`);
      if (options.json)
        return printJson({
          form: 'exported/1',
          capture: path,
          out,
          frames: chosen.count,
          of: read.capture.count,
        });
      printLine(`${out}: ${grouped(chosen.count)} of ${grouped(read.capture.count)} frames`);
    });
}

/** All cues of the capture, in the order of time. */
async function exportCues(build: Build, capture: string, out: string, options: ExportOptions): Promise<void> {
  const cues = build.cueSheets
    .filter((sheet) => sheet.capture === capture)
    .flatMap((sheet) => sheet.cues)
    .sort((a, b) => a.startS - b.startS);
  if (cues.length === 0)
    throw new SelectionError(`${capture} has no cue sheet with cues in cues/: nothing was written.`);
  await writeFileAtomic(out, cueCsv(cues));
  if (options.json) return printJson({ form: 'exported/1', capture, out, cues: cues.length });
  printLine(`${out}: ${counted(cues.length, 'cue')}`);
}

function seconds(word: string): number {
  const value = Number(word);
  if (word.trim() === '' || !Number.isFinite(value))
    throw new InvalidArgumentError('right would be a number of seconds, such as 12.5.');
  return value;
}
