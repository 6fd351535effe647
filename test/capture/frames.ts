/** Captures as plain lists of frames, for tests. */
import fc from 'fast-check';
import { expect } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import type { CaptureFormat, ReadOptions } from '../../src/capture/formats/format.ts';
import { storedLength } from '../../src/capture/select.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';

export interface Frame {
  /** Nanoseconds: since 1970 where they are large, else since the recorder started. */
  ns: bigint;
  bus: number;
  id: number;
  flags: number;
  length: number;
  data: number[];
}

export function frame(
  ns: number | bigint,
  id: number,
  data: number[],
  more: Partial<Omit<Frame, 'ns' | 'id' | 'data'>> = {},
): Frame {
  return { ns: BigInt(ns), bus: 0, id, flags: 0, length: data.length, data, ...more };
}

export function captureOf(frames: readonly Frame[]): Capture {
  const builder = new CaptureBuilder();
  const first = frames[0]?.ns ?? 0n;
  if (first >= 100_000_000_000_000_000n) builder.originNs = first;
  for (const f of frames) {
    const time = Number(f.ns - builder.originNs) / 1e9;
    builder.add(time, f.bus, f.id, f.flags, f.length, Uint8Array.from(f.data), 0, f.data.length);
  }
  return builder.finish();
}

export function framesOf(capture: Capture): Frame[] {
  return Array.from({ length: capture.count }, (_, i) => ({
    ns: capture.originNs + BigInt(Math.round((capture.time[i] as number) * 1e9)),
    bus: capture.bus[i] as number,
    id: capture.id[i] as number,
    flags: capture.flags[i] as number,
    length: capture.length[i] as number,
    data: [
      ...capture.payload.subarray(
        capture.offset[i],
        (capture.offset[i] as number) + storedLength(capture, i),
      ),
    ],
  }));
}

export interface Reading {
  capture: Capture;
  guess: string;
  notes: readonly string[];
}

/**
 * Reads `bytes` in pieces of the given sizes (the last repeats), as a slow stream would give them. Twice: with pieces that
 * start on a word boundary and with pieces that do not, since readers may treat them differently and must give the same.
 */
export function readBytes(
  format: CaptureFormat,
  bytes: Uint8Array,
  pieces: readonly number[] = [bytes.length],
  options: ReadOptions = {},
): Reading {
  const read = (shift: number): Reading | Error => {
    try {
      return readShifted(format, bytes, pieces, options, shift);
    } catch (error) {
      return error as Error;
    }
  };
  const aligned = read(0);
  const odd = read(1);
  if (aligned instanceof Error) {
    expect(odd).toEqual(aligned);
    throw aligned;
  }
  if (odd instanceof Error) throw odd;
  expect({ guess: odd.guess, notes: odd.notes, busNames: odd.capture.busNames }).toEqual({
    guess: aligned.guess,
    notes: aligned.notes,
    busNames: aligned.capture.busNames,
  });
  expect(differences(odd.capture, aligned.capture)).toEqual([]);
  return aligned;
}

/** Names of the parts in which two captures differ. */
export function differences(a: Capture, b: Capture): string[] {
  if (a.originNs !== b.originNs) return ['originNs'];
  const parts = ['time', 'id', 'bus', 'flags', 'length', 'offset', 'payload'] as const;
  const bytes = (array: Float64Array | Uint32Array | Uint8Array) =>
    Buffer.from(array.buffer, array.byteOffset, array.byteLength);
  return parts.filter((part) => !bytes(a[part]).equals(bytes(b[part])));
}

function readShifted(
  format: CaptureFormat,
  bytes: Uint8Array,
  pieces: readonly number[],
  options: ReadOptions,
  shift: number,
): Reading {
  const builder = new CaptureBuilder();
  const reader = format.open(builder, options);
  for (let at = 0, k = 0; at < bytes.length; k++) {
    const size = Math.min(Math.max(1, pieces[Math.min(k, pieces.length - 1)] as number), bytes.length - at);
    // A copy that is wiped afterwards: readers may not keep the piece.
    const piece = new Uint8Array(size + shift).subarray(shift);
    piece.set(bytes.subarray(at, at + size));
    reader.push(piece);
    piece.fill(0xa5);
    at += size;
  }
  reader.end();
  return { capture: builder.finish(), guess: reader.guess, notes: reader.notes };
}

export function readText(format: CaptureFormat, text: string, options: ReadOptions = {}): Reading {
  return readBytes(format, new TextEncoder().encode(text), undefined, options);
}

export function written(format: CaptureFormat, capture: Capture): Uint8Array {
  const pieces = [...(format.write as NonNullable<typeof format.write>)(capture)];
  const all = new Uint8Array(pieces.reduce((sum, p) => sum + p.length, 0));
  let at = 0;
  for (const piece of pieces) {
    all.set(piece, at);
    at += piece.length;
  }
  return all;
}

/** Says what is wrong with the numbers of a capture, or null: every frame within its bounds, payloads end to end. */
export function outOfRange(capture: Capture): string | null {
  let used = 0;
  for (let i = 0; i < capture.count; i++) {
    const flags = capture.flags[i] as number;
    const fd = (flags & FLAG.fd) !== 0;
    const length = capture.length[i] as number;
    const lengths = fd
      ? [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64]
      : [0, 1, 2, 3, 4, 5, 6, 7, 8];
    if (!lengths.includes(length)) return `frame ${i} has length ${length}`;
    if ((capture.id[i] as number) > 0x1fff_ffff) return `frame ${i} has id ${capture.id[i]}`;
    if ((flags & (FLAG.extended | FLAG.error)) === 0 && (capture.id[i] as number) > 0x7ff) {
      return `frame ${i} is base and has id ${capture.id[i]}`;
    }
    if (!Number.isFinite(capture.time[i])) return `frame ${i} has time ${capture.time[i]}`;
    if (capture.offset[i] !== used) return `frame ${i} starts at ${capture.offset[i]}, not ${used}`;
    used += storedLength(capture, i);
  }
  return used === capture.payload.length ? null : `payload has ${capture.payload.length} bytes, not ${used}`;
}

const START_NS = 1_700_000_000_000_000_000n;

/** Random frames: base and extended, remote, error, FD; times in any order, since 1970 or since the recorder started. */
export function framesArbitrary(buses: 'one' | 'many'): fc.Arbitrary<Frame[]> {
  const one = fc.record({
    kind: fc.constantFrom('data', 'data', 'data', 'remote', 'error', 'fd'),
    extended: fc.boolean(),
    id: fc.integer({ min: 0, max: 0x1fff_ffff }),
    bus: buses === 'one' ? fc.constant(0) : fc.integer({ min: 0, max: 255 }),
    ns: fc.bigInt({ min: 0n, max: 3_600_000_000_000n }),
    size: fc.nat({ max: 15 }),
    rate: fc.constantFrom(0, FLAG.bitRateSwitch, FLAG.errorState, FLAG.bitRateSwitch | FLAG.errorState),
    bytes: fc.uint8Array({ minLength: 64, maxLength: 64 }),
  });
  return fc
    .tuple(fc.boolean(), fc.boolean(), fc.array(one, { minLength: 1, maxLength: 40 }))
    .map(([absolute, plain, list]) =>
      list.map(({ kind: drawn, extended, id, bus, ns, size, rate, bytes }) => {
        const kind = plain ? 'data' : drawn;
        const fd = kind === 'fd';
        const sizes = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];
        const length = kind === 'error' ? 8 : fd ? (sizes[size] as number) : size % 9;
        const flags =
          (extended && kind !== 'error' ? FLAG.extended : 0) |
          (kind === 'remote' ? FLAG.remote : 0) |
          (kind === 'error' ? FLAG.error : 0) |
          (fd ? FLAG.fd | rate : 0);
        return {
          ns: absolute ? START_NS + ns : ns,
          bus,
          id: extended && kind !== 'error' ? id : id & 0x7ff,
          flags,
          length,
          data: kind === 'remote' ? [] : [...bytes.subarray(0, length)],
        };
      }),
    );
}
