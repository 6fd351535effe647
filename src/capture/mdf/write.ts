/** The writing half of MDF 4: sorted, one data group per kind of frame; described first, so that a cut file can be read. */
import { deflateSync } from 'node:zlib';
import type { Packing, WriteOptions } from '../formats/format.ts';
import type { Capture } from '../store.ts';
import { checkFrames } from '../writable.ts';
import { BLOCK_HEADER, FIRST_BLOCK } from './blocks.ts';
import { describe } from './describe.ts';
import { blockHeader, drafts, fields, laidOut, padded, sizeOf } from './metadata.ts';
import { transposed } from './transposition.ts';
import { kindIndex, type WrittenKind, writeFrame, writtenKinds } from './writtenLayout.ts';

/** Frames written at once; with deflate, those of one DZ block. */
const ROUND = 1 << 15;

/**
 * The capture as MDF 4.10. Plain: one DT block per kind of frame. With deflate: DZ blocks of up to 32,768 records in an HL
 * and DL list; all kinds but the most frequent one are then packed in memory before the first byte is given out.
 * Names of buses are texts of the values of BusChannel. Where the times alone do not tell the order of frames of
 * different kinds, each record has its place in the channel RecordedOrder.
 * @throws CaptureError where a frame is none (`checkFrames`)
 */
export function* writeMdf(
  capture: Capture,
  { packing = 'none', onFrames }: WriteOptions = {},
): Generator<Uint8Array, void, undefined> {
  checkFrames(capture);
  const all = kindsOf(capture);
  const kinds = all.map((kind, index) => ({ kind, index })).filter(({ kind }) => kind.frames > 0);
  kinds.sort((a, b) => a.kind.frames - b.kind.frames || a.index - b.index);
  // The rarest first: of a file that was cut off, as many kinds as can be are then whole.
  const startNs = capture.originNs < 0n ? 0n : capture.originNs;
  const shiftS = Number(capture.originNs - startNs) / 1e9;
  let framed = 0;
  const records = (index: number) =>
    recordsOf(capture, index, all[index] as WrittenKind, shiftS, (frames) => {
      framed += frames;
      onFrames?.(framed);
    });
  const placeholder = describe(capture, startNs, inOrder(kinds, []));
  let at = FIRST_BLOCK + sizeOf(drafts(placeholder));
  const places: number[] = [];
  const packed: Uint8Array[][] = [];
  for (const [k, { kind, index }] of kinds.entries()) {
    places[index] = at;
    if (packing === 'none') at += padded(BLOCK_HEADER + kind.frames * kind.size);
    else if (k < kinds.length - 1) {
      const own: Uint8Array[] = [];
      packed[k] = own;
      for (const piece of packedBlocks(records(index), kind, packing, at)) {
        own.push(piece);
        // Nothing to write yet, and a moment in which the writing can be given up.
        yield NOTHING;
      }
      at += (packed[k] as Uint8Array[]).reduce((sum, piece) => sum + piece.length, 0);
    }
  }
  yield identification();
  yield laidOut(drafts(describe(capture, startNs, inOrder(kinds, places))));
  for (const [k, { kind, index }] of kinds.entries()) {
    if (packing === 'none') yield* plainBlock(records(index), kind);
    else yield* packed[k] ?? packedBlocks(records(index), kind, packing, places[index] as number);
  }
}

const NOTHING = new Uint8Array(0);

interface Chosen {
  kind: WrittenKind;
  index: number;
}

/** Groups are described in the order of kinds, so that at equal times the reader's rule is that of `tellsOrder`. */
function inOrder(kinds: readonly Chosen[], places: readonly number[]) {
  return [...kinds]
    .sort((a, b) => a.index - b.index)
    .map(({ kind, index }) => ({ kind, data: places[index] ?? 0 }));
}

function kindsOf(capture: Capture): WrittenKind[] {
  const frames = [0, 0, 0, 0];
  let errorRoom = 8;
  for (let i = 0; i < capture.count; i++) {
    const flags = capture.flags[i] as number;
    const length = capture.length[i] as number;
    const k = kindIndex(flags);
    frames[k] = (frames[k] as number) + 1;
    if (k === 3 && length > errorRoom) errorRoom = 64;
  }
  return writtenKinds(frames, errorRoom, tellsOrder(capture) ? 'byTime' : 'recorded');
}

/** Whether merging the kinds by time, at equal times in their order, gives the recorded order back. */
function tellsOrder(capture: Capture): boolean {
  const next = [0, 0, 0, 0].fill(Number.POSITIVE_INFINITY);
  for (let i = capture.count - 1; i >= 0; i--) {
    const t = capture.time[i] as number;
    const k = kindIndex(capture.flags[i] as number);
    for (let other = 0; other < 4; other++) {
      const head = next[other] as number;
      if (other !== k && !(t < head || (t === head && k < other))) return false;
    }
    next[k] = t;
  }
  return true;
}

/** The records of one kind, up to `ROUND` at a time. */
function* recordsOf(
  capture: Capture,
  index: number,
  kind: WrittenKind,
  shiftS: number,
  made: (frames: number) => void,
): Generator<Uint8Array, void, undefined> {
  let i = 0;
  for (let left = kind.frames; left > 0; ) {
    const count = Math.min(ROUND, left);
    const out = new Uint8Array(count * kind.size);
    const view = new DataView(out.buffer);
    for (let n = 0; n < count; i++) {
      if (kindIndex(capture.flags[i] as number) !== index) continue;
      writeFrame(capture, i, kind, shiftS, out, view, n * kind.size);
      n++;
    }
    left -= count;
    made(count);
    yield out;
  }
}

function* plainBlock(
  records: Iterable<Uint8Array>,
  { frames, size }: WrittenKind,
): Generator<Uint8Array, void, undefined> {
  const length = BLOCK_HEADER + frames * size;
  yield blockHeader('DT', length, []);
  yield* records;
  if (padded(length) > length) yield new Uint8Array(padded(length) - length);
}

/** An HL block, then for each block of data a DL block that links it and the next DL block. `start` is the place of the HL. */
function* packedBlocks(
  records: Iterable<Uint8Array>,
  { frames, size }: WrittenKind,
  packing: Exclude<Packing, 'none'>,
  start: number,
): Generator<Uint8Array, void, undefined> {
  const zip = packing === 'transposed' ? 1 : 0;
  const hlSize = BLOCK_HEADER + 8 + 8;
  const dlSize = BLOCK_HEADER + 2 * 8 + 16;
  // Flag 1: blocks of equal length, the last may be shorter.
  yield block('HL', [start + hlSize], fields([2, 1], [1, zip], [1, 0], [4, 0]));
  let at = start + hlSize;
  let left = frames;
  for (const bytes of records) {
    left -= bytes.length / size;
    const data = deflateSync(zip === 1 ? transposed(bytes, size) : bytes);
    const dzSize = padded(BLOCK_HEADER + 24 + data.length);
    const next = left > 0 ? at + dlSize + dzSize : 0;
    yield block('DL', [next, at + dlSize], fields([1, 1], [1, 0], [2, 0], [4, 1], [8, ROUND * size]));
    const out = new Uint8Array(dzSize);
    out.set(blockHeader('DZ', BLOCK_HEADER + 24 + data.length, []));
    out.set([0x44, 0x54, zip, 0], BLOCK_HEADER);
    out.set(fields([4, zip === 1 ? size : 0], [8, bytes.length], [8, data.length]), BLOCK_HEADER + 4);
    out.set(data, BLOCK_HEADER + 24);
    yield out;
    at += dlSize + dzSize;
  }
}

function block(id: string, links: readonly number[], data: Uint8Array): Uint8Array {
  const header = blockHeader(id, BLOCK_HEADER + 8 * links.length + data.length, links);
  const out = new Uint8Array(header.length + data.length);
  out.set(header);
  out.set(data, header.length);
  return out;
}

/** "MDF     ", "4.10    ", the program, and 410 at 28. */
function identification(): Uint8Array {
  const out = new Uint8Array(FIRST_BLOCK);
  out.set(new TextEncoder().encode('MDF     4.10    Bywright'));
  new DataView(out.buffer).setUint16(28, 410, true);
  return out;
}
