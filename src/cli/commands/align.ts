import { join } from 'node:path';
import { Command, InvalidArgumentError, Option } from 'commander';
import { CAPTURES_FOLDER } from '../../build/files.ts';
import type { Reference } from '../../build/model.ts';
import { acceptClock, alignIn, clockEntry, referenceNamed } from '../../build/reference/accept.ts';
import { clockOf } from '../../build/reference/clock.ts';
import type { Alignment } from '../../capture/reference/align.ts';
import { EXIT } from '../exit.ts';
import { readCaptures, usableBuild } from '../inputs.ts';
import { grouped, printJson, printLine } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';

interface AlignOptions {
  signal: string;
  relation: 'either' | 'together' | 'opposite';
  near?: number;
  within?: number;
  accept?: boolean;
  json?: boolean;
}

export function align(): Command {
  return new Command('align')
    .description('find how the clock of a reference channel runs against that of its capture')
    .argument('<build>', 'folder of the build')
    .argument('<capture>', 'file name in captures/')
    .argument('<reference>', 'name of the channel, or of its file in reference/')
    .requiredOption(
      '--signal <words>',
      'words of one accepted signal, or raw bits as bus:ID:start:length:order',
    )
    .addOption(
      new Option('--relation <how>', 'whether signal and reference rise together')
        .choices(['either', 'together', 'opposite'])
        .default('either'),
    )
    .option('--near <seconds>', 'look only at offsets around this one', seconds)
    .option('--within <seconds>', 'how far around it; default 10', seconds)
    .option('--accept', 'write the clock into the file of the channel')
    .option('--json', 'print the result as JSON')
    .addHelpText(
      'after',
      `
The offset is that of time in the capture = time in the reference + offset + drift × time in the reference.

Example:
  bywright align demo drive-1.pcapng "satellite speed" --signal "vehicle speed"`,
    )
    .action(async (folder: string, capture: string, word: string, options: AlignOptions) => {
      const stop = stopOnInterrupt();
      const build = await usableBuild(folder);
      const reference = referenceNamed(build, capture, word);
      const read = await readCaptures([join(folder, CAPTURES_FOLDER, capture)], { signal: stop });
      const { near, within = 10, relation } = options;
      const range = near === undefined ? {} : { aroundS: near, withinS: within };
      const { result, signal } = alignIn(build, read.capture, reference, options.signal, {
        relation,
        ...range,
      });
      stop.throwIfAborted();
      const head = {
        form: 'alignment/1',
        capture,
        reference: reference.file.name,
        unit: reference.series?.unit ?? '',
        signal,
      };
      if ('reason' in result) {
        process.exitCode = EXIT.notShown;
        if (options.json) return printJson({ ...head, found: false, reason: result.reason, accepted: false });
        return printLine(`No alignment: ${result.reason}.`);
      }
      const clock = clockEntry(result, signal, `${new Date().toISOString().slice(0, 19)}Z`);
      // An ambiguous offset is one that a person has to narrow down first.
      const refused = options.accept === true && result.rivals.length > 0;
      const accepted = options.accept === true && !refused;
      if (accepted) await acceptClock(folder, reference, clock);
      if (refused) process.exitCode = EXIT.notShown;
      if (options.json) return printJson({ ...head, found: true, ...result, clock, accepted });
      print(result, reference, signal, clockOf(reference, read.capture.originNs));
      if (accepted) return printLine(`\nWritten: ${reference.path}`);
      if (refused)
        return printLine(
          '\nNothing was written: say which offset is meant with --near and --within, or record more.',
        );
      printLine(`\nNothing was written. With --accept, ${reference.path} would say:\nclock:`);
      for (const [key, value] of Object.entries(clock)) printLine(`  ${key}: ${value}`);
    });
}

function print(
  result: Alignment,
  { file, series }: Reference,
  signal: string,
  before: ReturnType<typeof clockOf>,
): void {
  const unit = series?.unit ? ` ${series.unit}` : '';
  const { offsetS, driftPpm, driftHalfPpm, shiftS, shiftHalfS, middleS, r, slope, intercept, residual } =
    result;
  printLine(`${file.name} against ${signal}`);
  printLine(
    `  offset       ${offsetS.toFixed(3)} s; in the middle of the overlap (${middleS.toFixed(0)} s) ${shiftS.toFixed(3)} ± ${shiftHalfS.toFixed(3)} s (95 %)`,
  );
  printLine(
    `  drift        ${driftHalfPpm === null ? 'not told, taken as 0' : `${driftPpm.toFixed(1)} ± ${driftHalfPpm.toFixed(1)} ppm (95 %)`}`,
  );
  printLine(
    `  correlation  ${r.toFixed(4)} over ${result.overlapS.toFixed(0)} s, ${grouped(result.pairs)} pairs`,
  );
  printLine(
    `  relation     ${file.name} ≈ ${slope.toPrecision(4)} × signal ${intercept < 0 ? '−' : '+'} ${Math.abs(intercept).toPrecision(3)}${unit}; ${residual.toPrecision(3)}${unit} left (root mean square)`,
  );
  if (before.state === 'dates')
    printLine(`  by the dates of both alone the offset would be ${before.offsetS.toFixed(3)} s`);
  if (before.state === 'accepted')
    printLine(`  accepted before: ${before.offsetS.toFixed(3)} s, ${before.driftPpm.toFixed(1)} ppm`);
  for (const text of result.cautions) printLine(`caution: ${text}`);
}

function seconds(word: string): number {
  const value = Number(word);
  if (word.trim() === '' || !Number.isFinite(value))
    throw new InvalidArgumentError('right would be a number of seconds, such as 12.5.');
  return value;
}
