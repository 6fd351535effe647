/** Frames of a capture to rows of DuckDB and back, 2048 at a time and whole columns at once. */
import { setImmediate } from 'node:timers/promises';
import { FLAG, isPayloadLength, MAX_BASE_ID, MAX_EXTENDED_ID } from '../../can/frame.ts';
import { storedLength } from '../../capture/select.ts';
import type { Capture, CaptureBuilder } from '../../capture/store.ts';
import type { DuckDb } from './duckdb.ts';

type Chunk = import('@duckdb/node-api').DuckDBDataChunk;

/** Columns of frames as SQL declares them; `appendFrames` and `takeFrames` keep to this order. */
export const FRAME_COLUMNS =
  't DOUBLE, bus UTINYINT, id UINTEGER, ext UTINYINT, flags UTINYINT, length UTINYINT, data BLOB';

/** Rows of a chunk (DuckDB's vector size). */
const ROWS = 2048;
/** Stands in the id column where a file holds none. */
export const NO_ID = 0xffff_ffff;
/** Chunks between two breaths, so that a server answers while it writes. */
const BREATH = 64;
/** Bytes of a text or blob that stand in its 16-byte head itself (DuckDB's string_t). */
const INLINE = 12;

/**
 * Appends all frames of a capture to a table with `FRAME_COLUMNS`, in DuckDB's main schema unless another is named.
 * @throws the signal's reason where it was aborted
 */
export async function appendFrames(
  db: DuckDb,
  table: string,
  capture: Capture,
  {
    schema = 'main',
    signal,
    onProgress,
  }: {
    schema?: string;
    signal?: AbortSignal | undefined;
    onProgress?: ((framesDone: number, framesTotal: number) => void) | undefined;
  } = {},
): Promise<void> {
  const { api, bindings } = db;
  const { DOUBLE, UTINYINT, UINTEGER, BLOB } = api;
  const appender = await db.connection.createAppender(table, schema);
  const chunk = api.DuckDBDataChunk.create([DOUBLE, UTINYINT, UINTEGER, UTINYINT, UTINYINT, UTINYINT, BLOB]);
  const heads = new Uint8Array(16 * ROWS);
  const headWords = new Uint32Array(heads.buffer);
  const ext = new Uint8Array(ROWS);
  for (let at = 0, k = 1; at < capture.count; at += ROWS, k++) {
    signal?.throwIfAborted();
    const n = Math.min(ROWS, capture.count - at);
    chunk.reset();
    chunk.rowCount = n;
    const vector = (column: number) => bindings.data_chunk_get_vector(chunk.chunk, column);
    const put = (column: number, array: Float64Array | Uint32Array | Uint8Array, from: number) =>
      bindings.copy_data_to_vector(
        vector(column),
        0,
        array.buffer as ArrayBuffer,
        array.byteOffset + from * array.BYTES_PER_ELEMENT,
        n * array.BYTES_PER_ELEMENT,
      );
    put(0, capture.time, at);
    put(1, capture.bus, at);
    put(2, capture.id, at);
    put(4, capture.flags, at);
    put(5, capture.length, at);
    const data = vector(6);
    heads.fill(0, 0, 16 * n);
    for (let i = 0; i < n; i++) {
      ext[i] = (capture.flags[at + i] as number) & FLAG.extended;
      const size = storedLength(capture, at + i);
      if (size > INLINE) continue;
      headWords[4 * i] = size;
      const from = capture.offset[at + i] as number;
      for (let b = 0; b < size; b++) heads[16 * i + 4 + b] = capture.payload[from + b] as number;
    }
    put(3, ext, 0);
    bindings.copy_data_to_vector(data, 0, heads.buffer, 0, 16 * n);
    for (let i = 0; i < n; i++) {
      const size = storedLength(capture, at + i);
      if (size <= INLINE) continue;
      const from = capture.offset[at + i] as number;
      bindings.vector_assign_string_element_len(data, i, capture.payload.subarray(from, from + size));
    }
    appender.appendDataChunk(chunk);
    if (k % BREATH !== 0) continue;
    await setImmediate();
    onProgress?.(at + n, capture.count);
  }
  appender.closeSync();
}

/** Rows that are no frames, by what is wrong with them: how many and the first of them, counted from 1. */
export type BadRows = Map<string, { count: number; row: number }>;

/**
 * Takes the frames of one chunk with `FRAME_COLUMNS` into `into`.
 * @param row rows that came before, for places in `bad`
 */
export function takeFrames(
  { bindings }: DuckDb,
  chunk: Chunk,
  into: CaptureBuilder,
  row: number,
  bad: BadRows,
): void {
  const n = chunk.rowCount;
  const bytes = (column: number, size: number) =>
    bindings.vector_get_data(bindings.data_chunk_get_vector(chunk.chunk, column), n * size);
  const t = bytes(0, 8);
  const times = new Float64Array(t.buffer, t.byteOffset, n);
  const buses = bytes(1, 1);
  const i4 = bytes(2, 4);
  const ids = new Uint32Array(i4.buffer, i4.byteOffset, n);
  const flagses = bytes(4, 1);
  const lengths = bytes(5, 1);
  const heads = bytes(6, 16);
  const headWords = new Uint32Array(heads.buffer, heads.byteOffset, 4 * n);
  let total = 0;
  for (let i = 0; i < n; i++) total += Math.min(64, headWords[4 * i] as number);
  const { time, id, bus, flags, length, offset, payload } = into.reserve(n, total);
  const payloadWords = new Uint32Array(payload.buffer, 0, payload.length >> 2);
  const first = into.count;
  let at = first;
  let used = into.used;
  for (let i = 0; i < n; i++) {
    const size = headWords[4 * i] as number;
    const why = trouble(
      times[i] as number,
      ids[i] as number,
      flagses[i] as number,
      lengths[i] as number,
      size,
    );
    if (why !== null) {
      const seen = bad.get(why);
      if (seen) seen.count++;
      else bad.set(why, { count: 1, row: row + i + 1 });
      continue;
    }
    time[at] = times[i] as number;
    id[at] = ids[i] as number;
    bus[at] = buses[i] as number;
    const flag = flagses[i] as number;
    // Only FD frames have a bit-rate switch and an error state.
    flags[at] = flag & (FLAG.bitRateSwitch | FLAG.errorState) ? flag | FLAG.fd : flag;
    length[at] = lengths[i] as number;
    offset[at] = used;
    if (size === 8 && (used & 3) === 0) {
      payloadWords[used >> 2] = headWords[4 * i + 1] as number;
      payloadWords[(used >> 2) + 1] = headWords[4 * i + 2] as number;
    } else if (size <= INLINE) {
      for (let b = 0; b < size; b++) payload[used + b] = heads[16 * i + 4 + b] as number;
    } else payload.set(longBytes(chunk, i), used);
    used += size;
    at++;
  }
  into.commit(at - first, used - into.used);
}

function trouble(time: number, id: number, flags: number, length: number, size: number): string | null {
  if (!Number.isFinite(time)) return 'no time';
  if (id === NO_ID) return 'no identifier that can be read';
  const most = (flags & (FLAG.extended | FLAG.error)) !== 0 ? MAX_EXTENDED_ID : MAX_BASE_ID;
  if (id > most) return `an identifier above 0x${most.toString(16).toUpperCase()}`;
  if (flags > 0x7f) return 'flags above 127';
  if ((flags & FLAG.remote) !== 0) {
    if (size > 0) return 'a remote frame with payload';
    return isPayloadLength(length, (flags & FLAG.fd) !== 0) ? null : 'a length that no remote frame has';
  }
  if (size !== length) return 'a length that differs from its payload';
  return isPayloadLength(size, (flags & FLAG.fd) !== 0) ? null : 'a payload length that no such frame has';
}

function longBytes(chunk: Chunk, row: number): Uint8Array {
  const vector = chunk.getColumnVector(6) as import('@duckdb/node-api').DuckDBBlobVector;
  return vector.getItemBytes(row) ?? new Uint8Array(0);
}
