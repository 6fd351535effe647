/** Kills a running recording without warning and looks at what is left. */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import { loadBuild } from '../../../src/build/load.ts';
import { problemSentence } from '../../../src/build/problem.ts';
import { framesOf } from '../../capture/frames.ts';
import { bareBuild, numbered, pause, removed, sender, startListen } from './child.ts';

export interface Killed {
  /** When, milliseconds after the first frame was sent. */
  atMs: number;
  sent: number;
  kept: number;
  /** Frames missing that had been sent more than a second before the kill. */
  missedOlder: number;
  /** Age of the oldest frame that is missing, milliseconds before the kill; 0 where none is. */
  oldestMissedMs: number;
  /** Everything else that is not as it should be. */
  wrong: string[];
}

/** A number in [0, 1) from a seed, the next at each call: mulberry32 (public domain, from memory). */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

/** One recording with its own source, format, rate and moment, all drawn from `seed`; half of them with cue keys. */
export async function recordAndKill(seed: number, longestMs: number): Promise<Killed> {
  const random = randomFrom(seed);
  const format = random() < 0.5 ? 'pcap' : 'pcapng';
  const overSocket = random() < 0.5;
  const perTick = 1 + Math.floor(random() * 8);
  const atMs = 50 + random() * (longestMs - 50);
  const folder = bareBuild();
  const child = startListen(
    folder,
    overSocket ? 'tcp:127.0.0.1:0' : '-',
    '--name',
    'run',
    '--quiet',
    '--cue',
    'b=brake pressed',
  );
  try {
    await child.says(/Recording into/);
    const into = overSocket ? await sender(child) : child.process.stdin;
    const { head, bytesOf } = numbered(format, 1_000_000);
    const sentAt: number[] = [];
    into.write(head);
    const start = performance.now();
    let nextKey = 100;
    while (performance.now() - start < atMs) {
      for (let k = 0; k < perTick; k++) {
        // Cut in two, so that the process is killed with half a record in hand too.
        const bytes = bytesOf(sentAt.length);
        into.write(bytes.subarray(0, 11));
        into.write(bytes.subarray(11));
        sentAt.push(performance.now());
      }
      if (overSocket && performance.now() - start > nextKey) {
        child.process.stdin.write('b');
        nextKey += 100 + random() * 200;
      }
      await pause(Math.min(10, Math.max(0, atMs - (performance.now() - start))));
    }
    const killed = performance.now();
    child.process.kill('SIGKILL');
    await child.ended;
    into.destroy();
    return { atMs, sent: sentAt.length, ...(await whatIsLeft(folder, sentAt, killed)) };
  } finally {
    child.process.kill('SIGKILL');
    removed(folder);
  }
}

async function whatIsLeft(folder: string, sentAt: number[], killed: number) {
  const wrong: string[] = [];
  let kept = 0;
  try {
    const { capture } = await readCaptureFile(join(folder, 'captures', 'run.pcapng'));
    const numbers = framesOf(capture).map(({ data }) => new Uint32Array(Uint8Array.from(data).buffer)[0]);
    const odd = numbers.findIndex((n, i) => n !== i);
    if (odd >= 0) wrong.push(`frame ${odd} of the file is number ${numbers[odd]}`);
    kept = numbers.length;
  } catch (error) {
    // Nothing had come yet: a file without frames says so.
    if (!/no frame|empty/.test((error as Error).message)) wrong.push((error as Error).message);
  }
  if (existsSync(join(folder, 'cues', 'run.yaml'))) {
    const { problems } = await loadBuild(folder);
    wrong.push(...problems.filter(({ file }) => file.startsWith('cues/')).map(problemSentence));
  }
  const missed = sentAt.slice(kept);
  return {
    kept,
    missedOlder: missed.filter((at) => at < killed - 1000).length,
    oldestMissedMs: missed.length === 0 ? 0 : killed - (missed[0] as number),
    wrong,
  };
}
