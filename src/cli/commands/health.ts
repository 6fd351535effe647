import { Command, InvalidArgumentError } from 'commander';
import { conversationsOf } from '../../capture/conversations.ts';
import { healthOf } from '../../capture/health.ts';
import { ratesOfBuilds } from '../busRates.ts';
import { countersIn } from '../healthCounters.ts';
import { healthForm } from '../healthForm.ts';
import { healthTable } from '../healthTable.ts';
import { readCaptures } from '../inputs.ts';
import { grouped, printJson } from '../print.ts';
import { stage, stopOnInterrupt } from '../progress.ts';

interface Options {
  bitRate?: Rates;
  dataRate?: Rates;
  window: number;
  columns?: string;
  json?: boolean;
}

/** Bits per second: of the buses named, or of all. */
type Rates = { all: number } | { by: Map<number, number> };

export function health(): Command {
  return new Command('health')
    .description(
      'report on a recording: load of each bus, errors, gaps, and per message rhythm, losses and second senders',
    )
    .argument('<capture...>', 'recordings of one car, any readable format')
    .option(
      '--bit-rate <rate>',
      'bit/s of all buses, or by bus: 500000, or 0=500000,1=250000; default: as the build says',
      ratesOf,
    )
    .option('--data-rate <rate>', 'bit/s of the data phase of CAN FD, in the same way', ratesOf)
    .option('--window <seconds>', 'window of the load', windowOf, 1)
    .option('--columns <names>', 'columns of a text capture where the guess is wrong')
    .option('--json', 'print the form health/1')
    .addHelpText(
      'after',
      '\nExample:\n  bywright health my-van/captures/drive-1.pcapng\n  bywright health drive.csv.gz --bit-rate 500000',
    )
    .action(async (paths: string[], options: Options) => {
      const signal = stopOnInterrupt();
      const { capture } = await readCaptures(paths, { columns: options.columns, signal });
      const counting = stage('Counters');
      const counters = countersIn(capture, (share) => {
        signal.throwIfAborted();
        counting.update(share);
      });
      counting.done(`${counters.length} messages count`);
      const step = stage('Health');
      const known = await ratesOfBuilds(paths);
      const report = healthOf(capture, {
        bitRates: options.bitRate ? byBus(options.bitRate) : known.bitRates,
        dataBitRates: options.dataRate ? byBus(options.dataRate) : known.dataBitRates,
        windowS: options.window,
        counters,
        carriers: conversationsOf(capture, { signal }).carriers,
        signal,
        onProgress: (share) => step.update(share),
      });
      step.done(
        `${grouped(report.frames)} frames on ${report.buses.length === 1 ? 'one bus' : `${report.buses.length} buses`}`,
      );
      if (options.json) printJson(healthForm(report));
      else healthTable(report);
    });
}

function byBus(rates: Rates | undefined): Map<number, number> {
  if (!rates) return new Map();
  if ('by' in rates) return rates.by;
  return new Map(Array.from({ length: 256 }, (_, bus) => [bus, rates.all]));
}

function ratesOf(text: string): Rates {
  const wrong = () =>
    new InvalidArgumentError(
      `"${text}" is no bit rate; right would be bits per second from 1000 to 20000000, 500000, or by bus, 0=500000,1=250000.`,
    );
  const rate = (digits: string | undefined) => {
    const n = /^\d+$/.test(digits ?? '') ? Number(digits) : Number.NaN;
    if (!(n >= 1000 && n <= 20_000_000)) throw wrong();
    return n;
  };
  if (!text.includes('=')) return { all: rate(text) };
  const by = new Map<number, number>();
  for (const part of text.split(',')) {
    const [bus = '', digits] = part.split('=');
    if (!/^\d{1,3}$/.test(bus) || Number(bus) > 255) throw wrong();
    by.set(Number(bus), rate(digits));
  }
  return { by };
}

function windowOf(text: string): number {
  const seconds = Number(text);
  if (!(seconds >= 0.001 && seconds <= 3600)) {
    throw new InvalidArgumentError(`"${text}" is no window; right would be seconds from 0.001 to 3600.`);
  }
  return seconds;
}
