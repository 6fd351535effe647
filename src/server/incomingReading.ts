/** Reads a recording that arrived, without taking it in: what it holds, and for text how its first lines were read. */
import { readCaptureFile } from '../build/captureFile.ts';
import {
  freeName,
  ImportError,
  keepReady,
  keptName,
  nameTrouble,
  readyCapture,
  sameContent,
} from '../build/keepCapture.ts';
import { sampleLines } from '../build/sampleLines.ts';
import { FLAG, formatId, idKey } from '../can/frame.ts';
import { CaptureError } from '../capture/error.ts';
import { text as textFormat } from '../capture/formats/text.ts';
import { timeSpan } from '../capture/span.ts';
import type { Capture } from '../capture/store.ts';
import { previewText, type TextPreview } from '../capture/text/preview.ts';
import type { IncomingReading, Job } from './api.ts';
import type { Arrived, ArrivedBus, ArrivedReading } from './incoming.ts';
import { Refusal } from './refusal.ts';
import { busOf, type Known, originText } from './views/capture.ts';
import type { Workbench } from './workbench.ts';

/** Identifiers named for each bus; of the others only the number is told. */
const IDS_SHOWN = 12;

/** The reading by these columns, or the job that is at it. */
export async function readingOf(
  workbench: Workbench,
  arrived: Arrived,
  columns: string,
): Promise<{ reading: IncomingReading; job: null } | { reading: null; job: Job }> {
  const known = arrived.readings.get(columns);
  if (known !== undefined) return { reading: await view(workbench, arrived, known), job: null };
  const key = incomingKey(arrived.id, columns);
  const job = workbench.jobs.start('reading', arrived.name, key, async (progress, signal) => {
    progress(0, 'looking at the first lines');
    const { build } = await workbench.load();
    const reading = await readArrived(workbench.folder, arrived, columns, build, { progress, signal });
    await workbench.incoming.hold(arrived, columns, reading);
  });
  return { reading: null, job };
}

export function incomingKey(id: string, columns: string): string {
  return `incoming ${id} ${columns}`;
}

interface Work {
  progress: (fraction: number, note: string) => void;
  signal: AbortSignal;
}

async function readArrived(
  folder: string,
  { name, path }: Arrived,
  columns: string,
  known: Known,
  { progress, signal }: Work,
): Promise<ArrivedReading> {
  const text = await previewOf(path, columns);
  try {
    const read = await readCaptureFile(path, {
      columns: columns || undefined,
      signal,
      onProgress: (done, total, frames) =>
        progress(total > 0 ? done / total : 0, `${frames.toLocaleString('en')} frames`),
    });
    const { capture, ...rest } = read;
    if (capture.count === 0) throw new CaptureError(`${path}: no frame could be read; ${read.guess}`);
    progress(1, 'making it ready to be kept');
    const ready = await readyCapture(folder, path, read, 'itself', signal);
    return {
      read: rest,
      contents: contentsOf(capture, known),
      error: null,
      text: read.format === 'text' ? text : null,
      ready,
    };
  } catch (error) {
    const told = error instanceof CaptureError || error instanceof ImportError;
    if (!told || signal.aborted) throw error;
    // The hidden name says nothing to a person.
    const sentence = error.message.replaceAll(path, name);
    return { read: null, contents: null, error: sentence, text, ready: null };
  }
}

/** Null where it is no text. */
async function previewOf(path: string, columns: string): Promise<TextPreview | null> {
  const lines = await sampleLines(path);
  if (lines.length === 0 || !textFormat.recognises(new TextEncoder().encode(lines.join('\n')))) return null;
  return previewText(lines, columns || undefined);
}

function contentsOf(capture: Capture, known: Known): NonNullable<ArrivedReading['contents']> {
  return {
    frames: capture.count,
    seconds: timeSpan(capture.time).seconds,
    origin: originText(capture),
    buses: busesOf(capture, known),
  };
}

function busesOf(capture: Capture, known: Known): ArrivedBus[] {
  const found = new Map<number, { frames: number; ids: Set<number> }>();
  for (let i = 0; i < capture.count; i++) {
    const bus = capture.bus[i] as number;
    const flags = capture.flags[i] as number;
    let entry = found.get(bus);
    if (entry === undefined) {
      entry = { frames: 0, ids: new Set() };
      found.set(bus, entry);
    }
    entry.frames++;
    if ((flags & FLAG.error) === 0) entry.ids.add(idKey(capture.id[i] as number, flags));
  }
  return [...found]
    .sort(([a], [b]) => a - b)
    .map(([bus, { frames, ids }]) => ({
      bus,
      name: busOf(known, bus)?.name ?? null,
      frames,
      ids: [...ids].sort((a, b) => a - b).map((key) => formatId(key & 0x1fff_ffff, key >= 0x8000_0000)),
    }));
}

async function view(
  workbench: Workbench,
  arrived: Arrived,
  { read, contents, error, text, ready }: ArrivedReading,
): Promise<IncomingReading> {
  const { id, name, bytes } = arrived;
  const file = { id, name, bytes };
  if (read === null || contents === null || ready === null)
    return { file, error, text, read: null, keep: null };
  const wanted = keptName(name, read.format);
  const free = await freeName(workbench.folder, wanted);
  const buses = contents.buses.map(({ ids, ...bus }) => ({
    ...bus,
    messages: ids.length,
    ids: ids.slice(0, IDS_SHOWN),
  }));
  return {
    file,
    error,
    text,
    read: { ...read, ...contents, buses },
    keep: {
      name: wanted,
      free,
      form: read.format === 'text' ? 'pcapng' : 'asItIs',
      sameAs: await sameContent(workbench.folder, ready, (path) => workbench.hash(path)),
    },
  };
}

/** Gives it a name in `captures/`, by the reading with these columns; the rest of it is deleted. */
export async function acceptArrived(
  workbench: Workbench,
  arrived: Arrived,
  name: string,
  columns: string,
): Promise<void> {
  const trouble = nameTrouble(name);
  if (trouble !== null) throw new Refusal(400, `name: ${trouble}`);
  const ready = arrived.readings.get(columns)?.ready;
  if (!ready)
    throw new Refusal(409, 'the recording was not read by these columns: look at the reading first');
  const free = await freeName(workbench.folder, name);
  if (free !== name)
    throw new Refusal(
      409,
      `captures/${name} is there already and is not overwritten: choose another name, for example ${free}`,
    );
  await keepReady(workbench.folder, ready, name);
  await workbench.incoming.remove(arrived.id);
}
