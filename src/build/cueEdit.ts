/** Changes the cue sheets of a capture one cue at a time; what else stands in the file, comments too, stays. */
import { stringify } from 'yaml';
import { camelKeys } from '../dictionary/case.ts';
import { listFolder, readText } from './disk.ts';
import { type Edit, editYaml } from './edit.ts';
import { checkFields } from './fields.ts';
import { FILE_KINDS } from './files.ts';
import type { CueSheet, Problem } from './model.ts';
import { problemSentence } from './problem.ts';
import { contentHash, type SaveOptions, saveText } from './save.ts';
import { parseYaml } from './yamlFile.ts';

export type Cue = CueSheet['cues'][number];

/** A change that was refused; the message is one sentence with the reason, and nothing was saved. */
export class CueError extends Error {
  override name = 'CueError';
}

export type CueChange =
  | { do: 'add'; cue: Cue }
  | { do: 'change'; index: number; cue: Cue }
  | { do: 'delete'; index: number };

/** A cue sheet as it stands on the disk. */
export interface CueSheetText {
  /** Path relative to the build. */
  file: string;
  /** `contentHash` of the file. */
  hash: string;
  text: string;
  cues: Cue[];
}

/** The YAML cue sheets that name this capture, by file name, and what is wrong with sheets that cannot be read. */
export async function readCueSheets(
  folder: string,
  capture: string,
): Promise<{ sheets: CueSheetText[]; problems: Problem[] }> {
  const { names, problems } = await listFolder(folder, 'cues');
  const sheets: CueSheetText[] = [];
  for (const name of names.filter((n) => n.endsWith('.yaml'))) {
    const file = `cues/${name}`;
    const read = await readText(folder, file);
    if (read.kind === 'problem') problems.push(read.problem);
    if (read.kind !== 'read') continue;
    const { sheet, problems: found } = understood(file, read.bytes);
    problems.push(...found);
    if (sheet?.capture !== capture) continue;
    sheets.push({ file, hash: contentHash(read.bytes), text: textOf(read.bytes), cues: sheet.cues });
  }
  return { sheets, problems };
}

/**
 * Applies a change to the cue sheet `file` whose content had the hash `readHash`; null begins a sheet where the file is
 * not there yet. Returns the text before (of a new sheet: the sheet without cues) and after.
 * @throws CueError where the change makes no sense or the sheet cannot be understood
 * @throws SaveError, LockError where the file is another by now, or the disk refuses
 */
export async function changeCues(
  folder: string,
  capture: string,
  file: string,
  readHash: string | null,
  change: CueChange,
  options: SaveOptions = {},
): Promise<{ before: string; after: string }> {
  const read = await readText(folder, file);
  if (read.kind === 'problem') throw new CueError(problemSentence(read.problem));
  const bytes = read.kind === 'read' ? read.bytes : Buffer.from(emptySheet(capture));
  const hash = read.kind === 'read' ? contentHash(bytes) : null;
  const before = textOf(bytes);
  // The save would tell it too; told here, a change that no longer fits is not taken for a mistake of the person's.
  if (hash !== readHash)
    throw new CueError(
      `${file} was changed by someone else since it was read: nothing was saved; look at the cues as they are now and repeat the change`,
    );
  const { sheet, problems } = understood(file, bytes);
  if (sheet === null)
    throw new CueError(`mend the cue sheet first: ${problems[0] ? problemSentence(problems[0]) : file}`);
  if (sheet.capture !== capture)
    throw new CueError(`${file} is the cue sheet of ${sheet.capture}, not of ${capture}`);
  const after = editYaml(before, editsOf(sheet.cues, change));
  await saveText(folder, file, after, hash, options);
  return { before, after };
}

/** Path of a sheet that is not there yet, named after the capture. */
export async function newSheetFile(folder: string, capture: string): Promise<string> {
  const { names } = await listFolder(folder, 'cues');
  const base = capture.replace(/^\.+/, '').replace(/(?<=.)\.[^.]+(\.gz)?$/i, '') || 'cues';
  let file = `${base}.yaml`;
  for (let n = 2; names.includes(file); n++) file = `${base}-${n}.yaml`;
  return `cues/${file}`;
}

function editsOf(cues: readonly Cue[], change: CueChange): Edit[] {
  if (change.do === 'add') return [{ do: 'append', path: ['cues'], value: written(checked(change.cue)) }];
  const old = cues[change.index];
  if (old === undefined) throw new CueError(`there is no cue number ${change.index + 1} in this sheet`);
  const at = ['cues', change.index];
  if (change.do === 'delete') return [{ do: 'remove', path: at }];
  const [was, is] = [written(old), written(checked(change.cue))];
  return FIELDS.flatMap((field): Edit[] => {
    if (was[field] === is[field]) return [];
    const path = [...at, field];
    return is[field] === undefined ? [{ do: 'remove', path }] : [{ do: 'set', path, value: is[field] }];
  });
}

const FIELDS = ['name', 'start_s', 'end_s', 'level', 'note'] as const;

/** As it stands in the file; microseconds are finer than any recorder's clock. */
function written({ name, startS, endS, level, note }: Cue): Record<string, string | number> {
  const rounded = (seconds: number) => Math.round(seconds * 1e6) / 1e6;
  return {
    name,
    start_s: rounded(startS),
    end_s: rounded(endS),
    ...(level !== undefined && { level }),
    ...(note !== undefined && { note }),
  };
}

function checked(cue: Cue): Cue {
  const name = cue.name.trim();
  const note = cue.note?.trim() || undefined;
  if (name === '') throw new CueError('a cue needs a name: what was done, for example "brake pressed"');
  if (![cue.startS, cue.endS, cue.level ?? 0].every(Number.isFinite))
    throw new CueError('start, end and level of a cue have to be numbers');
  if (cue.endS < cue.startS)
    throw new CueError(
      `the cue "${name}" would end at ${cue.endS} s, before it starts at ${cue.startS} s: give an end of at least ${cue.startS}`,
    );
  const { startS, endS, level } = cue;
  return { name, startS, endS, ...(level !== undefined && { level }), ...(note !== undefined && { note }) };
}

function understood(file: string, bytes: Uint8Array): { sheet: CueSheet | null; problems: Problem[] } {
  const { parsed, problems } = parseYaml(file, bytes);
  if (parsed === null || problems.length > 0) return { sheet: null, problems };
  const { schema, form } = FILE_KINDS.cues;
  const { value, problems: found } = checkFields(parsed, schema, form);
  return { sheet: value === null ? null : camelKeys(value), problems: found };
}

function emptySheet(capture: string): string {
  return stringify({ form: 'cues/1', capture, cues: [] });
}

function textOf(bytes: Uint8Array): string {
  return new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
}
