import { Command } from 'commander';
import type { Build } from '../../build/model.ts';
import { writeFileAtomic } from '../../build/save.ts';
import type { Capture } from '../../capture/store.ts';
import { decodeSignal, messageFrames, type Series } from '../../dictionary/decode.ts';
import type { Message, Signal } from '../../dictionary/model.ts';
import { readCaptures, usableBuild } from '../inputs.ts';
import { grouped, printJson, printLine, printTable } from '../print.ts';

interface Decoded {
  bus: string;
  message: Message;
  signal: Signal;
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
        const build = await usableBuild(folder);
        const { capture } = await readCaptures([path], { columns: options.columns });
        const decoded = decodeAll(build, capture).filter((d) => matches(d, options.signal));
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

function decodeAll(build: Build, capture: Capture): Decoded[] {
  return build.dictionaries.flatMap((dictionary) => {
    const bus = build.buses.find((b) => b.name === dictionary.bus);
    if (!bus) return [];
    return dictionary.messages.flatMap((message) => {
      const frames = messageFrames(capture, bus.number, message);
      return message.signals
        .filter((signal) => signal.state === 'accepted')
        .map((signal) => ({
          bus: bus.name,
          message,
          signal,
          series: decodeSignal(capture, frames, message, signal),
        }));
    });
  });
}

function matches(d: Decoded, words: string | undefined): boolean {
  return !words || `${d.bus} ${d.message.name} ${d.signal.name}`.toLowerCase().includes(words.toLowerCase());
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
    bus,
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
    const tail = `,${quoted(bus)},${quoted(message.name)},${quoted(signal.name)},`;
    const digits = decimals(signal);
    for (let i = 0; i < series.value.length; i++) {
      const value = (series.value[i] as number).toFixed(digits);
      lines.push(`${(series.time[i] as number).toFixed(6)}${tail}${value},${quoted(signal.unit)}`);
    }
  }
  return `${lines.join('\n')}\n`;
}
