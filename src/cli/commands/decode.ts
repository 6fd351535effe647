import { Command } from 'commander';
import type { Build, Bus } from '../../build/model.ts';
import { writeFileAtomic } from '../../build/save.ts';
import type { Capture } from '../../capture/store.ts';
import { decodeSignal, messageFrames, type Series } from '../../dictionary/decode.ts';
import type { Message, Signal } from '../../dictionary/model.ts';
import { readCaptures, usableBuild } from '../inputs.ts';
import { refuseToReplace } from '../outputs.ts';
import { grouped, printJson, printLine, printTable, typed } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';
import { tellUnheard } from '../unheard.ts';

/** No accepted signal is asked for; the message says which there are. */
export class NoSignalError extends Error {
  override name = 'NoSignalError';
}

interface Known {
  bus: Bus;
  message: Message;
  signal: Signal;
}

interface Decoded extends Known {
  series: Series;
}

export function decode(): Command {
  return new Command('decode')
    .description("read a capture with the build's dictionary: what each accepted signal did")
    .argument('<build>', 'folder of the build')
    .argument('<capture>', 'recording in any readable format')
    .option('--signal <words>', 'only signals whose "bus message signal" holds these words')
    .option('--columns <names>', 'columns of a text capture where the guess is wrong')
    .option('--csv <file>', 'write every value: t, bus, message, signal, value, unit')
    .option('--json', 'print the summary as JSON')
    .addHelpText(
      'after',
      '\nExample:\n  bywright decode demo demo/captures/drive-1.pcapng --signal "wheel speed"',
    )
    .action(
      async (
        folder: string,
        path: string,
        options: { signal?: string; columns?: string; csv?: string; json?: boolean },
      ) => {
        const signal = stopOnInterrupt();
        const build = await usableBuild(folder);
        const known = signalsOf(build);
        const wanted = known.filter((k) => matches(k, options.signal));
        if (wanted.length === 0) throw new NoSignalError(noSignal(folder, known, options.signal));
        if (options.csv) await refuseToReplace(options.csv, [path]);
        const { capture } = await readCaptures([path], { columns: options.columns, signal });
        tellUnheard(
          'the dictionary',
          wanted.map(({ bus, message }) => ({ ...message, bus: bus.number })),
          capture,
          path,
        );
        const decoded = wanted.map((w) => decodeOne(w, capture));
        signal.throwIfAborted();
        if (options.csv) await writeFileAtomic(options.csv, csvText(decoded));
        if (options.json)
          return printJson({ form: 'decoded/1', capture: path, signals: decoded.map(summary) });
        printTable(
          ['bus', 'message', 'signal', 'values', 'least', 'mean', 'greatest', 'unit', 'not believed'],
          decoded.map((d) => {
            const s = summary(d);
            const digits = decimals(d.signal);
            const shown = (n: number | null) => (n === null ? '–' : n.toFixed(digits));
            return [
              s.bus,
              s.message,
              s.signal,
              grouped(s.values),
              shown(s.least),
              shown(s.mean),
              shown(s.greatest),
              s.unit,
              grouped(s.notBelieved),
            ];
          }),
        );
        if (options.csv) printLine(`\nWritten: ${options.csv}`);
      },
    );
}

/** All accepted signals, bus by bus. */
function signalsOf(build: Build): Known[] {
  return build.dictionaries.flatMap(({ bus: name, messages }) => {
    const bus = build.buses.find((b) => b.name === name);
    if (!bus) return [];
    return messages.flatMap((message) =>
      message.signals.filter((s) => s.state === 'accepted').map((signal) => ({ bus, message, signal })),
    );
  });
}

function matches(known: Known, words: string | undefined): boolean {
  return !words || fullName(known).toLowerCase().includes(words.toLowerCase());
}

function fullName({ bus, message, signal }: Known): string {
  return `${bus.name} ${message.name} ${signal.name}`;
}

function noSignal(folder: string, known: readonly Known[], words: string | undefined): string {
  if (known.length === 0)
    return `${folder}: no signal is accepted yet, so there is nothing to decode; accept findings on the sheet Messages (\`bywright open ${typed(folder)}\`), or write them into dictionary/`;
  return `no accepted signal holds the words "${words}"; there are: ${known.map(fullName).join('; ')}`;
}

function decodeOne(known: Known, capture: Capture): Decoded {
  const { bus, message, signal } = known;
  const frames = messageFrames(capture, bus.number, message);
  return { ...known, series: decodeSignal(capture, frames, message, signal) };
}

function summary({ bus, message, signal, series }: Decoded) {
  let [least, greatest, sum, believed] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY, 0, 0];
  series.value.forEach((v, i) => {
    if (!series.valid[i]) return;
    believed++;
    sum += v;
    if (v < least) least = v;
    if (v > greatest) greatest = v;
  });
  return {
    bus: bus.name,
    message: message.name,
    signal: signal.name,
    unit: signal.unit,
    values: series.value.length,
    notBelieved: series.value.length - believed,
    least: believed ? least : null,
    mean: believed ? sum / believed : null,
    greatest: believed ? greatest : null,
  };
}

/** Decimals that show one step of the signal. */
function decimals(signal: Signal): number {
  return Math.min(6, Math.max(0, Math.ceil(-Math.log10(Math.abs(signal.scale)) - 1e-9)));
}

function csvText(decoded: readonly Decoded[]): string {
  const quoted = (s: string) => (/[",\n]/.test(s) ? `"${s.replaceAll('"', '""')}"` : s);
  const lines = ['t,bus,message,signal,value,unit'];
  for (const { bus, message, signal, series } of decoded) {
    const tail = `,${quoted(bus.name)},${quoted(message.name)},${quoted(signal.name)},`;
    const digits = decimals(signal);
    for (let i = 0; i < series.value.length; i++) {
      const value = (series.value[i] as number).toFixed(digits);
      lines.push(`${(series.time[i] as number).toFixed(6)}${tail}${value},${quoted(signal.unit)}`);
    }
  }
  return `${lines.join('\n')}\n`;
}
