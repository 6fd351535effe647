import { Command } from 'commander';
import { writeCaptureFile } from '../../build/captureFile.ts';
import { matchClocks } from '../../capture/clockMatch.ts';
import { mergeCaptures } from '../../capture/merge.ts';
import type { Capture } from '../../capture/store.ts';
import { readCaptures } from '../inputs.ts';
import { refuseToReplace } from '../outputs.ts';
import { grouped, printJson, printLine } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';

interface MergeOptions {
  bus: string[];
  leaveOut: string[];
  offset?: string;
  json?: boolean;
}

/** The options of `merge` make no sense together; the message is one sentence. */
export class MergeError extends Error {
  override name = 'MergeError';
}

export function merge(): Command {
  const collect = (value: string, all: string[]) => [...all, value];
  return new Command('merge')
    .description('put two recordings of one drive on one clock, from frames that both recorders heard')
    .argument('<first>', 'recording whose clock counts')
    .argument('<second>', 'recording that is moved onto it')
    .argument('<out>', 'file to write; its ending says the format')
    .option(
      '--bus <from=to>',
      'number that a bus of the second gets; default: the next free ones',
      collect,
      [],
    )
    .option('--leave-out <number>', 'bus of the second to leave out, as when both recorded it', collect, [])
    .option('--offset <seconds>', 'use this offset instead of working it out, where no bus was heard by both')
    .option('--json', 'print the clock match as JSON')
    .addHelpText('after', '\nExample:\n  bywright merge left.pcapng right.pcapng both.pcapng --leave-out 0')
    .action(async (first: string, second: string, out: string, options: MergeOptions) => {
      const signal = stopOnInterrupt();
      await refuseToReplace(out, [first, second]);
      const { capture: a } = await readCaptures([first], { signal });
      const { capture: b } = await readCaptures([second], { signal });
      const clock = clockOf(a, b, options.offset);
      const buses = busMap(a, b, options);
      const merged = mergeCaptures(a, b, clock, (bus) => buses.get(bus) ?? null);
      signal.throwIfAborted();
      await writeCaptureFile(out, merged, undefined, undefined, { signal });
      if (options.json) {
        return printJson({
          form: 'merged/1',
          out,
          frames: merged.count,
          buses: Object.fromEntries(buses),
          ...clock,
        });
      }
      printLine(`${out}: ${grouped(merged.count)} frames.`);
      printLine(
        `The second clock is ${clock.offsetS.toFixed(6)} s behind the first and runs ${Math.abs(clock.driftPpm).toFixed(2)} ppm ` +
          `${clock.driftPpm >= 0 ? 'slow' : 'fast'}.`,
      );
      if (clock.pairs > 0) {
        printLine(
          `From ${grouped(clock.pairs)} frames of ${clock.messages} messages that both heard; left over: median ` +
            `${(clock.residualS * 1e6).toFixed(0)} µs, 95 % below ${(clock.residual95S * 1e6).toFixed(0)} µs.`,
        );
      }
      for (const [from, to] of buses) printLine(`bus ${from} of the second is now bus ${to}`);
    });
}

function clockOf(a: Capture, b: Capture, offset: string | undefined) {
  if (offset !== undefined) {
    const offsetS = Number(offset);
    if (!Number.isFinite(offsetS))
      throw new MergeError(`--offset ${offset}: a number of seconds is needed, such as -1.25`);
    return { offsetS, driftPpm: 0, pairs: 0, messages: 0, residualS: 0, residual95S: 0 };
  }
  const match = matchClocks(a, b);
  if ('reason' in match)
    throw new MergeError(`the two clocks cannot be matched: ${match.reason}; or give --offset`);
  return match;
}

function busMap(a: Capture, b: Capture, options: MergeOptions): Map<number, number> {
  const used = new Set(a.bus);
  const out = new Set(options.leaveOut.map((text) => busNumber(text, '--leave-out')));
  const asked = new Map(
    options.bus.map((text) => {
      const [from, to, more] = text.split('=');
      if (from === undefined || to === undefined || more !== undefined) {
        throw new MergeError(`--bus ${text}: two numbers are needed, as in --bus 0=2`);
      }
      return [busNumber(from, '--bus'), busNumber(to, '--bus')];
    }),
  );
  const map = new Map<number, number>();
  for (const bus of [...new Set(b.bus)].sort((x, y) => x - y)) {
    if (out.has(bus)) continue;
    let to = asked.get(bus) ?? 0;
    if (!asked.has(bus)) while (used.has(to)) to++;
    if (to > 255) throw new MergeError('no bus number below 256 is free; choose one with --bus');
    used.add(to);
    map.set(bus, to);
  }
  return map;
}

function busNumber(text: string, option: string): number {
  const n = Number(text);
  if (!Number.isInteger(n) || n < 0 || n > 255)
    throw new MergeError(`${option} ${text}: a bus number is 0 to 255`);
  return n;
}
