/** Recordings as Parquet: one row a frame with t, bus, id, ext, flags, length and data; read and written by DuckDB. */
import { copyFile, mkdtemp, open, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { CaptureError } from '../../capture/error.ts';
import { type Capture, CaptureBuilder } from '../../capture/store.ts';
import { checkFrames } from '../../capture/writable.ts';
import type { CaptureRead } from '../captureFile.ts';
import type { FileFormat } from '../fileFormats.ts';
import { type FrameProjection, isOwn, type ParquetColumn, projectionOf } from './columns.ts';
import { type DuckDb, duckDbError, openDuckDb, quoted } from './duckdb.ts';
import { appendFrames, type BadRows, FRAME_COLUMNS, takeFrames } from './frames.ts';

/**
 * t is seconds since the first frame (origin_ns in the file's own notes says when that was, in ns since 1970; 0 = not
 * known), id the identifier as a number, ext 1 for 29 bits, flags the or-ed bits of `FLAG`, data the payload.
 */
export const parquet: FileFormat = {
  name: 'parquet',
  words: 'Parquet, one row a frame',
  extensions: ['.parquet'],
  recognises: (head) => Buffer.from(head.subarray(0, 4)).toString('latin1') === MAGIC,
  read: readParquet,
  write: writeParquet,
};

const MAGIC = 'PAR1';
/** Times from 1973 on count as absolute; smaller numbers are times since the recorder started. */
const ABSOLUTE_S = 1e8;
const NOTE_KEYS = { origin: 'origin_ns', buses: 'bus_names' } as const;

/** @throws CaptureError where the file is no Parquet file of frames */
async function readParquet(path: string, options: Parameters<FileFormat['read']>[1]): Promise<CaptureRead> {
  const size = await checkEnds(path);
  const db = await openDuckDb();
  let plainPath: { path: string; remove(): Promise<void> } | null = null;
  try {
    plainPath = await withoutWildcards(resolve(path));
    return await readRows(db, `read_parquet(${quoted(plainPath.path)})`, plainPath.path, size, options);
  } catch (error) {
    if (error instanceof CaptureError || options.signal?.aborted) throw error;
    throw new CaptureError(`The Parquet file is damaged (${duckDbError(error).words}): copy it again.`);
  } finally {
    db.close();
    await plainPath?.remove();
  }
}

async function writeParquet(
  path: string,
  capture: Capture,
  { signal, onProgress }: Parameters<FileFormat['write']>[2] = {},
): Promise<void> {
  checkFrames(capture);
  const db = await openDuckDb();
  try {
    await db.connection.run(`create table frames (${FRAME_COLUMNS})`);
    await appendFrames(db, 'frames', capture, { signal, onProgress });
    const notes = [`${NOTE_KEYS.origin}: ${quoted(String(capture.originNs))}`];
    if (capture.busNames) notes.push(`${NOTE_KEYS.buses}: ${quoted(JSON.stringify([...capture.busNames]))}`);
    await db.connection.run(
      `copy frames to ${quoted(resolve(path))} (format parquet, parquet_version v2, compression snappy, use_tmp_file false, kv_metadata {${notes.join(', ')}})`,
    );
    onProgress?.(capture.count, capture.count);
  } catch (error) {
    if (signal?.aborted) throw error;
    throw systemError(error, path);
  } finally {
    db.close();
  }
}

async function readRows(
  db: DuckDb,
  table: string,
  path: string,
  size: number,
  { signal, onProgress }: Parameters<FileFormat['read']>[1],
): Promise<CaptureRead> {
  const rows = async (sql: string) => (await db.connection.runAndReadAll(sql)).getRows();
  const columns = (await rows(`describe select * from ${table}`)).map(
    ([name, type]): ParquetColumn => ({ name: String(name), type: String(type) }),
  );
  const count = Number((await rows(`select count(*) from ${table}`))[0]?.[0]);
  const nulls = Number(
    (await rows(`select coalesce(sum(stats_null_count), 0) from parquet_metadata(${quoted(path)})`))[0]?.[0],
  );
  const notes = new Map(
    (await rows(`select decode(key), decode(value) from parquet_kv_metadata(${quoted(path)})`)).map(
      ([key, value]) => [String(key), String(value)],
    ),
  );
  if (count === 0) throw new CaptureError('This Parquet file holds no rows, so no frame.');
  // A damaged file may claim any number of rows: what it holds in truth takes room as it comes.
  const into = new CaptureBuilder(Math.min(count, size));
  const own = isOwn(columns) && nulls === 0;
  const projection = own ? null : projectionOf(columns);
  let select = projection?.select ?? '*';
  if (/^\d{1,19}$/.test(notes.get(NOTE_KEYS.origin) ?? ''))
    into.originNs = BigInt(notes.get(NOTE_KEYS.origin) as string);
  else if (projection?.time) select = await fromFirst(rows, table, projection, into);
  for (const [bus, name] of busNames(notes.get(NOTE_KEYS.buses))) into.busNames.set(bus, name);
  const bad: BadRows = new Map();
  const result = await db.connection.stream(`select ${select} from ${table}`);
  let row = 0;
  let reported = performance.now();
  for (;;) {
    const chunk = await result.fetchChunk();
    if (chunk === null || chunk.rowCount === 0) break;
    takeFrames(db, chunk, into, row, bad);
    row += chunk.rowCount;
    signal?.throwIfAborted();
    if (performance.now() - reported < 100) continue;
    onProgress?.(Math.floor((size * row) / count), size, into.count);
    reported = performance.now();
  }
  onProgress?.(size, size, into.count);
  if (into.count === 0)
    throw new CaptureError(`None of the ${count} rows of this Parquet file is a frame: ${badWords(bad)[0]}`);
  const capture = into.finish();
  return {
    capture,
    format: 'parquet',
    guess: projection?.guess ?? `Parquet, ${count} rows`,
    notes: [...badWords(bad), ...backwards(capture)],
  };
}

/** Sets the origin from the first row where its time is absolute; gives the columns with t counted from there. */
async function fromFirst(
  rows: (sql: string) => Promise<unknown[][]>,
  table: string,
  { select, time }: FrameProjection,
  into: CaptureBuilder,
): Promise<string> {
  if (time === null) return select;
  const first = (
    await rows(`select ${time.column} from ${table} where ${time.column} is not null limit 1`)
  )[0]?.[0];
  if (first === undefined) return select;
  if (time.kind === 'instant') {
    into.originNs = BigInt(first as bigint);
    return select.replace(time.column, `((${time.column} - ${into.originNs})::double / 1e9)`);
  }
  if (!(Number(first) >= ABSOLUTE_S)) return select;
  // A double holds no more than microseconds of a time since 1970.
  into.originNs = BigInt(Math.round(Number(first) * 1e6)) * 1000n;
  const seconds = into.originNs / 1_000_000_000n;
  const nanos = into.originNs % 1_000_000_000n;
  return select.replace(time.column, `((${time.column} - ${seconds}) - ${nanos} / 1e9)`);
}

function badWords(bad: BadRows): string[] {
  return [...bad].map(([what, { count, row }]) =>
    count === 1
      ? `1 row was skipped: row ${row} holds ${what}.`
      : `${count} rows were skipped, the first of them row ${row}: it holds ${what}.`,
  );
}

function backwards({ time, count }: Capture): string[] {
  let times = 0;
  let first = 0;
  for (let i = 1; i < count; i++)
    if ((time[i] as number) < (time[i - 1] as number) && times++ === 0) first = i + 1;
  if (times === 0) return [];
  const often = times === 1 ? 'once' : `${times} times`;
  return [`Time goes backwards ${often}, first at frame ${first}; frames stay in recorded order.`];
}

function busNames(text: string | undefined): [number, string][] {
  try {
    const list = JSON.parse(text ?? '[]') as unknown;
    if (!Array.isArray(list)) return [];
    return list.filter(
      (entry): entry is [number, string] =>
        Array.isArray(entry) && Number.isInteger(entry[0]) && typeof entry[1] === 'string',
    );
  } catch {
    return [];
  }
}

/** A Parquet file is held together by its last bytes: without them nothing of it can be read. Returns its size. */
async function checkEnds(path: string): Promise<number> {
  const file = await open(path, 'r');
  try {
    const { size } = await file.stat();
    const tail = Buffer.alloc(8);
    if (size >= 12) await file.read(tail, 0, 8, size - 8);
    const listed = tail.readUInt32LE(0);
    if (size < 12 || tail.toString('latin1', 4) !== MAGIC || listed > size - 12) {
      throw new CaptureError(
        `The Parquet file is cut short: it does not end in its table of contents and PAR1 at byte ${Math.max(0, size - 8)}; copy it again, nothing of it can be read.`,
      );
    }
    return size;
  } finally {
    await file.close();
  }
}

/** DuckDB takes * ? [ in a path for wildcards: a file with such a name is read under another. */
async function withoutWildcards(path: string): Promise<{ path: string; remove(): Promise<void> }> {
  if (!/[*?[\]{}]/.test(path)) return { path, remove: async () => {} };
  const folder = await mkdtemp(join(tmpdir(), 'bywright-'));
  const plain = join(folder, 'capture.parquet');
  await copyFile(path, plain);
  return { path: plain, remove: () => rm(folder, { recursive: true, force: true }) };
}

/** What the system said, where DuckDB only passes it on, so that it is told like any other full disk. */
function systemError(error: unknown, path: string): unknown {
  const { words } = duckDbError(error);
  const code = Object.entries(SYSTEM_WORDS).find(([, pattern]) => pattern.test(words))?.[0];
  return code
    ? Object.assign(new Error(words), { code, path })
    : new CaptureError(`Parquet was not written: ${words}`);
}

const SYSTEM_WORDS: Record<string, RegExp> = {
  ENOSPC: /no space left/i,
  EDQUOT: /quota exceeded/i,
  EACCES: /permission denied/i,
  EROFS: /read-only file system/i,
  ENOENT: /no such file/i,
};
