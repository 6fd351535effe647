/** The views that SQL can ask for, filled from captures, dictionaries and cue sheets. One more view is one more line. */
import { setImmediate } from 'node:timers/promises';
import { FLAG } from '../../can/frame.ts';
import type { Capture } from '../../capture/store.ts';
import { FLAG_LETTERS } from '../../capture/text/columns.ts';
import { decodeSignal, messageFrames, type Series } from '../../dictionary/decode.ts';
import type { Build, Reference } from '../model.ts';
import { type DuckDb, quoted } from '../parquet/duckdb.ts';
import { appendFrames, FRAME_COLUMNS } from '../parquet/frames.ts';
import { captureTimes, clockOf } from '../reference/clock.ts';

export const VIEWS = ['frames', 'signals', 'cues', 'references'] as const;

/**
 * Makes the four views; those that are not in `wanted` stay empty, so that their columns can still be named in advice.
 * frames: capture, t, bus, id, ext, flags, length, data. signals: capture, t, bus, message, signal, value, unit, believed.
 * cues: capture, name, start, end, level. references: capture, name, t, own_t, value, unit, clock. Times in s from the first frame of the capture.
 */
export async function makeViews(
  db: DuckDb,
  build: Build,
  wanted: ReadonlySet<string>,
  read: (name: string) => Promise<Capture>,
  signal: AbortSignal | undefined,
): Promise<void> {
  const frames: string[] = [];
  const sql = (text: string) => db.connection.run(text);
  await sql('create schema store');
  await sql(`create table store.no_frames (${FRAME_COLUMNS})`);
  await sql(
    'create table store.samples (capture USMALLINT, source UINTEGER, t DOUBLE, value DOUBLE, believed BOOLEAN)',
  );
  await sql(
    'create table store.sources (source UINTEGER, bus VARCHAR, message VARCHAR, signal VARCHAR, unit VARCHAR)',
  );
  await sql('create table store.captures (capture USMALLINT, name VARCHAR)');
  const sources = wanted.has('signals') ? await listSources(db, build) : [];
  const origins = new Map<string, bigint>();
  if (wanted.has('frames') || wanted.has('signals')) {
    for (const [number, name] of build.captures.entries()) {
      signal?.throwIfAborted();
      const capture = await read(name);
      origins.set(name, capture.originNs);
      await sql(`insert into store.captures values (${number}, ${quoted(name)})`);
      if (wanted.has('frames')) {
        await sql(`create table store.frames_${number} (${FRAME_COLUMNS})`);
        await appendFrames(db, `frames_${number}`, capture, { schema: 'store', signal });
        frames.push(`select ${quoted(name)} as capture, * from store.frames_${number}`);
      }
      for (const source of sources) {
        const taken = messageFrames(capture, source.bus, source.message);
        await appendSeries(
          db,
          number,
          source.number,
          decodeSignal(capture, taken, source.message, source.signal),
        );
      }
    }
  }
  if (frames.length === 0) frames.push("select '' as capture, * from store.no_frames");
  const letters = Array.from({ length: 128 }, (_, flags) => quoted(lettersOf(flags))).join(', ');
  await sql(
    `create view frames as select capture, t, ${busSql(build)} as bus,
      case when ext = 1 then printf('%08X', id) else printf('%03X', id) end as id,
      ext, ([${letters}])[flags + 1] as flags, length, data from (${frames.join(' union all ')})`,
  );
  await sql(
    `create view signals as select c.name as capture, t, bus, message, signal, value, unit, believed
      from store.samples s join store.sources using (source) join store.captures c on c.capture = s.capture`,
  );
  await makeCues(db, build);
  if (wanted.has('references')) {
    // Only where a channel has dates and no accepted clock does the start of its capture matter.
    for (const name of build.captures) {
      const needed = build.references.some(
        ({ file, series }) => file.capture === name && file.clock === undefined && series?.originNs != null,
      );
      if (needed && !origins.has(name)) origins.set(name, (await read(name)).originNs);
    }
  }
  await makeReferences(db, wanted.has('references') ? build.references : [], origins);
}

interface Source {
  number: number;
  bus: number;
  message: Build['dictionaries'][number]['messages'][number];
  signal: Build['dictionaries'][number]['messages'][number]['signals'][number];
}

/** The accepted signals of all dictionaries. */
async function listSources(db: DuckDb, build: Build): Promise<Source[]> {
  const sources: Source[] = [];
  for (const dictionary of build.dictionaries) {
    const bus = build.buses.find((b) => b.name === dictionary.bus);
    if (!bus) continue;
    for (const message of dictionary.messages) {
      for (const signal of message.signals.filter((s) => s.state === 'accepted')) {
        const number = sources.length;
        sources.push({ number, bus: bus.number, message, signal });
        const names = [bus.name, message.name, signal.name, signal.unit].map(quoted).join(', ');
        await db.connection.run(`insert into store.sources values (${number}, ${names})`);
      }
    }
  }
  return sources;
}

const ROWS = 2048;
const BREATH = 64;

async function appendSeries(db: DuckDb, capture: number, source: number, series: Series): Promise<void> {
  const { api, bindings } = db;
  const { USMALLINT, UINTEGER, DOUBLE, BOOLEAN } = api;
  const appender = await db.connection.createAppender('samples', 'store');
  const chunk = api.DuckDBDataChunk.create([USMALLINT, UINTEGER, DOUBLE, DOUBLE, BOOLEAN]);
  const captures = new Uint16Array(ROWS).fill(capture);
  const sources = new Uint32Array(ROWS).fill(source);
  for (let at = 0, k = 1; at < series.time.length; at += ROWS, k++) {
    const n = Math.min(ROWS, series.time.length - at);
    chunk.reset();
    chunk.rowCount = n;
    const put = (
      column: number,
      array: Float64Array | Uint32Array | Uint16Array | Uint8Array,
      from: number,
    ) =>
      bindings.copy_data_to_vector(
        bindings.data_chunk_get_vector(chunk.chunk, column),
        0,
        array.buffer as ArrayBuffer,
        array.byteOffset + from * array.BYTES_PER_ELEMENT,
        n * array.BYTES_PER_ELEMENT,
      );
    put(0, captures, 0);
    put(1, sources, 0);
    put(2, series.time, at);
    put(3, series.value, at);
    put(4, series.valid, at);
    appender.appendDataChunk(chunk);
    if (k % BREATH === 0) await setImmediate();
  }
  appender.closeSync();
}

async function makeCues(db: DuckDb, build: Build): Promise<void> {
  await db.connection.run(
    'create table cues (capture VARCHAR, name VARCHAR, "start" DOUBLE, "end" DOUBLE, level DOUBLE)',
  );
  for (const sheet of build.cueSheets) {
    for (const { name, startS, endS, level } of sheet.cues) {
      const values = [quoted(sheet.capture), quoted(name), startS, endS, level ?? 'null'].join(', ');
      await db.connection.run(`insert into cues values (${values})`);
    }
  }
}

/** Values of the reference channels; t is null where nothing ties their clock to the capture's. */
async function makeReferences(
  db: DuckDb,
  references: readonly Reference[],
  origins: ReadonlyMap<string, bigint>,
): Promise<void> {
  const sql = (text: string) => db.connection.run(text);
  await sql(
    'create table store.channels (channel USMALLINT, capture VARCHAR, name VARCHAR, unit VARCHAR, clock VARCHAR)',
  );
  await sql('create table store.readings (channel USMALLINT, t DOUBLE, own_t DOUBLE, value DOUBLE)');
  const appender = await db.connection.createAppender('readings', 'store');
  for (const [number, reference] of references.entries()) {
    const { file, series } = reference;
    if (series === null) continue;
    const clock = clockOf(reference, origins.get(file.capture) ?? 0n);
    const times = captureTimes(series.timeS, clock);
    const words = [file.capture, file.name, series.unit, clock.state].map(quoted).join(', ');
    await sql(`insert into store.channels values (${number}, ${words})`);
    for (let i = 0; i < times.length; i++) {
      if (Number.isNaN(series.value[i])) continue;
      appender.appendUSmallInt(number);
      if (Number.isNaN(times[i])) appender.appendNull();
      else appender.appendDouble(times[i] as number);
      appender.appendDouble(series.timeS[i] as number);
      appender.appendDouble(series.value[i] as number);
      appender.endRow();
      if (i % (ROWS * BREATH) === 0) await setImmediate();
    }
  }
  appender.closeSync();
  await sql(
    `create view "references" as select capture, name, t, own_t, value, unit, clock
      from store.readings join store.channels using (channel)`,
  );
}

/** The build's name of a bus, or its number where the build does not know it. */
function busSql({ buses }: Build): string {
  const named = buses.map(({ number, name }) => `when ${number} then ${quoted(name)}`);
  return named.length === 0 ? 'bus::varchar' : `case bus ${named.join(' ')} else bus::varchar end`;
}

/** Letters of a frame's properties, as in the CSV that is written. */
function lettersOf(flags: number): string {
  return [...FLAG_LETTERS].filter((_, k) => flags & (FLAG.remote << k)).join('');
}
