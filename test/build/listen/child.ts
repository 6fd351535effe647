/** `bywright listen` in a process of its own, fed frame by frame as a bus would. */
import { type ChildProcessWithoutNullStreams, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { pcap } from '../../../src/capture/formats/pcap.ts';
import { pcapng } from '../../../src/capture/formats/pcapng.ts';
import { captureOf, frame, written } from '../../capture/frames.ts';
import { wagtail } from '../folder.ts';

/** A build with its three needed files; the caller removes it. */
export function bareBuild(): string {
  const folder = mkdtempSync(join(tmpdir(), 'bywright-listen-'));
  const files = wagtail();
  for (const name of ['build.yaml', 'buses.yaml', 'units.yaml'])
    writeFileSync(join(folder, name), files[name] as string);
  return folder;
}

export const removed = (folder: string) => rmSync(folder, { recursive: true, force: true });

export interface Child {
  process: ChildProcessWithoutNullStreams;
  out(): string;
  err(): string;
  /** Fulfilled when the words stand on standard error. */
  says(words: RegExp): Promise<RegExpExecArray>;
  ended: Promise<number | null>;
}

/** Brings the compiled program up to date, once and before any child runs: several at a time would get in each other's way. */
function prepared(): string {
  if (program === null) {
    const done = spawnSync(process.execPath, [resolve('bin/bywright.mjs'), '--version'], {
      encoding: 'utf8',
    });
    if (done.status !== 0) throw new Error(done.stderr);
    program = pathToFileURL(resolve('dist/src/cli/main.js')).href;
  }
  return program;
}

let program: string | null = null;

export function startListen(folder: string, ...args: string[]): Child {
  const script = `import { main } from '${prepared()}'; await main(process.argv.slice(1));`;
  const child = spawn(process.execPath, [
    '--input-type=module',
    '-e',
    script,
    '--',
    'listen',
    folder,
    ...args,
  ]);
  let out = '';
  let err = '';
  child.stdout.on('data', (text) => {
    out += text;
  });
  child.stderr.on('data', (text) => {
    err += text;
  });
  // A child that was killed no longer reads.
  child.stdin.on('error', () => {});
  const ended = new Promise<number | null>((done) => child.once('close', done));
  return {
    process: child,
    out: () => out,
    err: () => err,
    ended,
    says: (words) =>
      new Promise((found, failed) => {
        const look = () => {
          const match = words.exec(err);
          if (match) found(match);
        };
        child.stderr.on('data', look);
        child.once('close', () => failed(new Error(`the process ended without saying ${words}: ${err}`)));
        look();
      }),
  };
}

export const START_NS = 1_764_000_000_000_000_000n;

/** The stream's header, and the bytes of frame `n`: its number in the payload, one every `stepNs`. */
export function numbered(
  format: 'pcap' | 'pcapng',
  stepNs: number,
): { head: Uint8Array; bytesOf(n: number): Uint8Array } {
  const whole = (n: number) => {
    const data = [...new Uint8Array(Uint32Array.of(n).buffer)];
    const ns = START_NS + BigInt(n) * BigInt(stepNs);
    return written(format === 'pcap' ? pcap : pcapng, captureOf([frame(ns, 0x100 + (n % 5), data)]));
  };
  const size = format === 'pcap' ? 32 : 48;
  const first = whole(0);
  return { head: first.subarray(0, first.length - size), bytesOf: (n) => whole(n).slice(-size) };
}

/** The socket of a sender at the address that the child printed. */
export async function sender(child: Child): Promise<Socket> {
  const [, port] = await child.says(/Waiting for a sender at tcp:127\.0\.0\.1:(\d+)/);
  const socket = connect(Number(port), '127.0.0.1');
  socket.on('error', () => {});
  await new Promise<void>((done) => socket.once('connect', () => done()));
  return socket;
}

export const pause = (ms: number) => new Promise<void>((done) => setTimeout(done, ms));
