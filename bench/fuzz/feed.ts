/** Feeds one input to one reader and says how that ended. */
import { getHeapStatistics } from 'node:v8';
import { FLAG, isPayloadLength } from '../../src/can/frame.ts';
import { CaptureError } from '../../src/capture/error.ts';
import { GzipReader } from '../../src/capture/gzip.ts';
import { storedLength } from '../../src/capture/select.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import type { Target, WholeRead } from './targets.ts';

export type Outcome = 'read' | 'refused' | 'crash' | 'nonsense' | 'slow' | 'memory';

export interface Fed {
  outcome: Outcome;
  /** What is wrong; empty for inputs that were read or refused as they should be. */
  why: string;
  frames: number;
  ms: number;
  /** Memory that the reader held at its end or left to be collected, bytes. What was collected meanwhile is not in it. */
  bytes: number;
}

export interface Limits {
  ms: number;
  bytes: number;
}

/** `packed`: the pieces are those of a gzip file, and go through the unpacking that files go through. */
export async function feed(
  target: Target,
  pieces: readonly Uint8Array[],
  packed: 'plain' | 'gzip',
  limits: Limits,
): Promise<Fed> {
  const before = held();
  // Asking the system takes longer than most readers do.
  const asks = target.seldom !== undefined;
  const peak = asks ? maxRss() : 0;
  const start = performance.now();
  const builder = new CaptureBuilder(16);
  let outcome: Outcome = 'read';
  let why = '';
  let frames = 0;
  try {
    const read = await readBy(target, builder, pieces, packed);
    frames = 'capture' in read ? read.capture.count : read.count;
    why = 'capture' in read ? nonsense(read.capture) : read.nonsense;
    if (why !== '') outcome = 'nonsense';
  } catch (error) {
    outcome = 'refused';
    if (!isSentence(error)) {
      outcome = 'crash';
      why = error instanceof Error ? (error.stack ?? error.message) : String(error);
    }
  }
  const ms = performance.now() - start;
  const bytes = Math.max(0, held() - before);
  // What a reader takes outside the heap and gives back shows in the peak of the process alone, with others' share in it.
  const outside = asks ? maxRss() - peak : 0;
  if (outcome === 'read' || outcome === 'refused') {
    if (ms > limits.ms) [outcome, why] = ['slow', `${ms.toFixed(0)} ms`];
    else if (bytes > limits.bytes) [outcome, why] = ['memory', `${(bytes / 1e6).toFixed(0)} MB`];
    else if (outside > OUTSIDE_LIMITS * limits.bytes)
      [outcome, why] = ['memory', `the process grew by ${(outside / 1e6).toFixed(0)} MB`];
  }
  return { outcome, why, frames, ms, bytes };
}

/** How much of the process's growth counts as one reader's, in limits. */
const OUTSIDE_LIMITS = 4;

async function readBy(
  target: Target,
  builder: CaptureBuilder,
  pieces: readonly Uint8Array[],
  packed: 'plain' | 'gzip',
): Promise<WholeRead> {
  if (target.whole) return await target.whole(Buffer.concat(pieces));
  if (packed === 'plain') take(target, builder, pieces);
  else await unpack(target, builder, pieces);
  return { capture: builder.finish() };
}

function take(target: Target, builder: CaptureBuilder, pieces: readonly Uint8Array[]): void {
  const reader = opened(target, builder);
  for (const piece of pieces) reader.push(piece);
  reader.end();
}

async function unpack(target: Target, builder: CaptureBuilder, pieces: readonly Uint8Array[]): Promise<void> {
  const reader = opened(target, builder);
  const unpacking = new GzipReader((part) => reader.push(part));
  try {
    for (const piece of pieces) await unpacking.push(piece);
    await unpacking.end();
  } finally {
    unpacking.close();
  }
  reader.end();
}

function opened(target: Target, builder: CaptureBuilder) {
  if (!target.open) throw new Error(`${target.name} has no reader`);
  return target.open(builder);
}

function maxRss(): number {
  return process.resourceUsage().maxRSS * 1024;
}

function held(): number {
  const { used_heap_size, external_memory, malloced_memory } = getHeapStatistics();
  return used_heap_size + external_memory + malloced_memory;
}

/** A refusal is the named error with one sentence in it. */
function isSentence(error: unknown): boolean {
  return (
    error instanceof CaptureError && /^[A-Z"0-9].*[.]$/s.test(error.message) && !error.message.includes('\n')
  );
}

/** What no capture may hold; empty where all is within bounds. */
function nonsense(capture: Capture): string {
  let used = 0;
  for (let i = 0; i < capture.count; i++) {
    const flags = capture.flags[i] as number;
    const id = capture.id[i] as number;
    if (!isPayloadLength(capture.length[i] as number, (flags & FLAG.fd) !== 0))
      return `frame ${i} has ${capture.length[i]} bytes of payload`;
    if (id > ((flags & (FLAG.extended | FLAG.error)) === 0 ? 0x7ff : 0x1fff_ffff))
      return `frame ${i} has the identifier ${id}`;
    if (!Number.isFinite(capture.time[i])) return `frame ${i} has the time ${capture.time[i]}`;
    if (capture.offset[i] !== used)
      return `the payload of frame ${i} stands at ${capture.offset[i]} and not at ${used}`;
    used += storedLength(capture, i);
  }
  return used === capture.payload.length
    ? ''
    : `payloads take ${capture.payload.length} bytes and not ${used}`;
}
