import { Command } from 'commander';
import { type Listened, Listening, parseSource } from '../../build/listen/index.ts';
import { loadBuild } from '../../build/load.ts';
import { EXIT } from '../exit.ts';
import { readKeys } from '../keys.ts';
import { blockLines, plainLine } from '../listenView.ts';
import { grouped, printJson, printLine } from '../print.ts';
import { stopOnInterrupt } from '../progress.ts';
import { blockOn } from '../redraw.ts';

interface Options {
  name?: string;
  bus?: string;
  seconds?: string;
  cue: Map<string, string>;
  quiet?: boolean;
  json?: boolean;
}

/** Off a terminal a line this often, seconds. */
const PLAIN_EVERY_S = 5;

export function listen(): Command {
  return new Command('listen')
    .description('record a live pcap or pcapng stream into captures/, with cues put by keys, until it ends')
    .argument('<build>', 'folder of the build')
    .argument('<source>', '- (standard input), tcp:127.0.0.1:PORT or unix:PATH (a sender connects there)')
    .option('--name <name>', 'name of the recording; by date and time if not given')
    .option('--bus <number>', 'bus of a pcap stream, which does not say it (default: 0)')
    .option('--seconds <number>', 'end after so many seconds')
    .option(
      '--cue <key=name>',
      'a key that starts and ends a cue, e.g. b="brake pressed"; repeatable',
      cue,
      new Map(),
    )
    .option('--quiet', 'print no summary while it runs')
    .option('--json', 'print what was kept as JSON')
    .addHelpText(
      'after',
      `
Ctrl-C ends the recording; that is its ordinary end (exit code 0). Exit code 1: something of the stream was not kept;
2: no frame came; 3: ended by Ctrl-C before any frame came.

Example:
  bywright listen my-van - --cue b="brake pressed" --cue w="wiper on"
reads what another program sends, for example: tcpdump -i can0 -U -w - | bywright listen my-van -
or from another computer: ssh van tcpdump -i can0 -U -w - | bywright listen my-van -`,
    )
    .action(run);
}

async function run(folder: string, from: string, options: Options): Promise<void> {
  const source = parseSource(from);
  const bus = number('--bus', options.bus, 0, 255);
  const seconds = number('--seconds', options.seconds, 0, 1e7);
  const buses = (await loadBuild(folder)).build?.buses ?? [];
  const stop = stopRequests();
  const block = process.stderr.isTTY && !options.quiet ? blockOn(process.stderr) : null;
  const say = (text: string) => (block ? block.say(text) : process.stderr.write(`${text}\n`));
  let told = 0;
  const listening = await Listening.start(folder, source, {
    name: options.name,
    bus,
    seconds,
    input: process.stdin,
    cues: options.cue,
    signal: stop.signal,
    tell: say,
    onSecond: (state) => {
      if (block) block.draw(blockLines(state, buses, options.cue, process.stderr.columns ?? 100));
      else if (!options.quiet && state.elapsedS - told >= PLAIN_EVERY_S) {
        told = state.elapsedS;
        say(plainLine(state, buses));
      }
    },
  });
  say(`Recording into captures/${listening.name}; Ctrl-C ends it.`);
  const keys =
    options.cue.size > 0
      ? readKeys(
          source.kind === 'standard input' ? 'stream' : 'keys',
          (key) => listening.press(key),
          stop.request,
        )
      : null;
  if (options.cue.size > 0 && keys === null)
    say('caution: there is no terminal, so no key can be read: the recording has no cues');
  const done = await listening.ended.finally(() => {
    block?.clear();
    keys?.close();
    process.stdin.destroy();
  });
  report(done, options);
}

function report(done: Listened, { json }: Options): void {
  const whole = done.lost === 0 && done.ended !== 'the disk refuses';
  process.exitCode = whole ? EXIT.done : EXIT.notShown;
  if (json) {
    printJson({ form: 'listened/1', ...done });
    return;
  }
  const span = done.seconds === null ? '' : `, ${done.seconds.toFixed(1)} s`;
  printLine(`captures/${done.name}: ${grouped(done.frames)} frames${span}; ended: ${done.ended}`);
  if (done.cueSheet !== null)
    printLine(`${done.cueSheet}: ${grouped(done.cues)} ${done.cues === 1 ? 'cue' : 'cues'}`);
  for (const note of done.notes) printLine(`  note: ${note}`);
}

/** Ctrl-C, a closed terminal and a polite request to end all end the recording in order. */
function stopRequests(): { signal: AbortSignal; request: () => void } {
  const own = new AbortController();
  const request = () => own.abort();
  process.once('SIGTERM', request);
  process.once('SIGHUP', request);
  return { signal: AbortSignal.any([stopOnInterrupt(), own.signal]), request };
}

/** Takes `b=brake pressed`. */
function cue(text: string, cues: Map<string, string>): Map<string, string> {
  const [, key, name] = /^(\S)=(.*\S)\s*$/u.exec(text) ?? [];
  if (key === undefined || name === undefined)
    throw new ListenUsage(
      `--cue ${text}: right would be one key, = and a name, as in --cue b="brake pressed"`,
    );
  if (cues.has(key))
    throw new ListenUsage(
      `--cue ${text}: the key ${key} is bound to "${cues.get(key)}" already; choose another`,
    );
  return new Map([...cues, [key, name]]);
}

class ListenUsage extends Error {}

function number(option: string, text: string | undefined, least: number, most: number): number | undefined {
  if (text === undefined) return undefined;
  const value = Number(text);
  const whole = option !== '--bus' || Number.isInteger(value);
  if (text.trim() === '' || !(value >= least && value <= most) || !whole)
    throw new ListenUsage(`${option} ${text}: right would be a number from ${least} to ${most}`);
  return value;
}
