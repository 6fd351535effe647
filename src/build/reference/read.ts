/** Reads the data of the reference channels of a build: typed points, delimited text or a track, in the unit asked for. */
import { readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { readReferenceCsv } from '../../capture/reference/csv.ts';
import { readGpx } from '../../capture/reference/gpx.ts';
import type { ReferenceRead, ReferenceSeries } from '../../capture/reference/model.ts';
import { columnHeader, unitFactor } from '../../capture/reference/units.ts';
import { oneOf, problemAt } from '../checks/place.ts';
import { codeOf } from '../disk.ts';
import type { Sources } from '../load.ts';
import type { Problem, Reference, ReferenceFile } from '../model.ts';

/** Hours of ten values a second. */
const MOST_BYTES = 64 * 2 ** 20;
const MOST_KEPT = 16;
/** Below this the unit of the times is a guess that a person should confirm. */
const SURE = 0.9;

/** What was read from a file, by path and stamp: a build is loaded at every change of any of its files. */
const kept = new Map<string, { stamp: string; read: ReferenceRead }>();

/** `paths` are those of `files`, in order. Data that cannot be used is told with its place. */
export async function readReferences(
  root: string,
  files: readonly ReferenceFile[],
  paths: readonly string[],
  sources: Sources,
): Promise<{ references: Reference[]; problems: Problem[] }> {
  const references: Reference[] = [];
  const problems: Problem[] = [];
  for (const [i, file] of files.entries()) {
    const path = paths[i] as string;
    const at = (field: string, found: string, expected: string) =>
      problemAt(sources, path, field, found, expected);
    const { series, guess, told } = file.file ? await fromFile(root, file, file.file, at) : fromPoints(file);
    problems.push(...told);
    references.push({ path, file, series, guess });
  }
  return { references, problems };
}

type At = (field: string, found: string, expected: string) => Problem;
interface Taken {
  series: ReferenceSeries | null;
  guess: string;
  told: Problem[];
}

function fromPoints({ name, unit, points = [] }: ReferenceFile): Taken {
  // Points that run backwards are told by the check; here they are only put in order.
  const rising = [...points].sort((a, b) => (a[0] as number) - (b[0] as number));
  const once = rising.filter((p, i) => i === 0 || (p[0] as number) > (rising[i - 1]?.[0] as number));
  const series = {
    name,
    unit,
    timeS: Float64Array.from(once, (p) => p[0] as number),
    value: Float64Array.from(once, (p) => p[1] as number),
    originNs: null,
  };
  return { series: once.length > 0 ? series : null, guess: 'typed points', told: [] };
}

async function fromFile(root: string, entry: ReferenceFile, name: string, at: At): Promise<Taken> {
  const nothing = (...told: Problem[]): Taken => ({ series: null, guess: '', told });
  if (/[\\/]/.test(name) || name.startsWith('.'))
    return nothing(at('file', `"${name}"`, 'the name of a file in reference/, without folders'));
  const path = `reference/${name}`;
  let read: ReferenceRead;
  try {
    read = await readData(join(root, path), entry);
  } catch (error) {
    if (error instanceof RangeError)
      return nothing(
        at('file', `"${name}", ${error.message}`, 'at most 64 MB; cut it to the time of the capture'),
      );
    const found =
      codeOf(error) === 'ENOENT'
        ? `"${name}", which is not in reference/`
        : `"${name}", which cannot be read (${codeOf(error)})`;
    return nothing(at('file', found, 'a file in reference/'));
  }
  const told: Problem[] = read.problems.map(({ line, column, found, expected, weight }) => ({
    file: path,
    line,
    column,
    field: '',
    found,
    expected,
    ...(weight && { weight }),
  }));
  if (read.series.length === 0) return { ...nothing(...told), guess: read.guess };
  const names = read.series.map((s) => s.name);
  const wanted = entry.column === undefined ? undefined : columnHeader(entry.column).name;
  const series =
    wanted === undefined && read.series.length === 1
      ? read.series[0]
      : read.series.find((s) => s.name.toLowerCase() === wanted?.toLowerCase());
  if (series === undefined) {
    const field = entry.column === undefined ? 'file' : 'column';
    const found =
      entry.column === undefined
        ? `"${name}" with several columns and no "column" here`
        : `"${entry.column}"`;
    return { ...nothing(...told, at(field, found, oneOf(`a column of ${name}`, names))), guess: read.guess };
  }
  if (read.confidence < SURE && entry.timeUnit === undefined)
    told.push({
      ...at(
        'file',
        `${read.guess}, ${Math.round(read.confidence * 100)} % sure`,
        'time_unit: s, ms, us or ns, so that nothing is guessed',
      ),
      weight: 'caution',
    });
  const unit = entry.unit || series.unit;
  const factor = series.unit === '' ? 1 : unitFactor(series.unit, unit);
  if (factor === null)
    told.push(
      at(
        'unit',
        `"${unit}", while ${name} holds ${series.unit}`,
        `${series.unit}, or another unit of the same quantity`,
      ),
    );
  const value = factor === 1 || factor === null ? series.value : series.value.map((v) => v * factor);
  return {
    series: factor === null ? null : { ...series, name: entry.name, unit, value },
    guess: read.guess,
    told,
  };
}

/** @throws RangeError where the file is too large; the system's error where it cannot be read */
async function readData(path: string, { timeColumn, timeUnit }: ReferenceFile): Promise<ReferenceRead> {
  const { size, mtimeMs, ino } = await stat(path);
  if (size > MOST_BYTES) throw new RangeError(`${(size / 2 ** 20).toFixed(0)} MB`);
  const key = JSON.stringify([path, timeColumn, timeUnit]);
  const stamp = `${size} ${mtimeMs} ${ino}`;
  const known = kept.get(key);
  if (known?.stamp === stamp) return known.read;
  const text = textOf(await readFile(path));
  const isTrack = /\.gpx$/i.test(path) || /^\s*(<\?xml|<gpx)/.test(text.slice(0, 200));
  const read = isTrack ? readGpx(text) : readReferenceCsv(text, { timeColumn, timeUnit });
  kept.delete(key);
  kept.set(key, { stamp, read });
  for (const oldest of kept.keys()) {
    if (kept.size <= MOST_KEPT) break;
    kept.delete(oldest);
  }
  return read;
}

/** Loggers and spreadsheets also write Windows-1252: then a degree sign is one byte. */
function textOf(bytes: Uint8Array): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}
