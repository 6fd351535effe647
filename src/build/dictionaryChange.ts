/** One change of a dictionary file: read, edited, tested for what it would contradict, and saved whole or not at all. */
import { camelKeys } from '../dictionary/case.ts';
import type { Dictionary, Message } from '../dictionary/model.ts';
import { dictionaryProblems } from '../dictionary/problems.ts';
import { readText } from './disk.ts';
import { type Edit, editYaml } from './edit.ts';
import { checkFields } from './fields.ts';
import { FILE_KINDS } from './files.ts';
import { AcceptError } from './findingTarget.ts';
import { problemSentence } from './problem.ts';
import { contentHash, type SaveOptions, saveText } from './save.ts';
import { parseYaml } from './yamlFile.ts';

/** What a change did, so that it can be taken back as long as nobody else touched the file. */
export interface DictionaryChange {
  file: string;
  before: string;
  /** `contentHash` of the file as the change left it. */
  afterHash: string;
}

export type Path = (string | number)[];

/**
 * Reads the dictionary, adds `entry` where the message is missing, applies the edits and saves if nothing contradicts.
 * Without `entry` the message has to be there. Throws `AcceptError`, `SaveError` or `LockError`.
 */
export async function changeDictionary(
  folder: string,
  bus: string,
  message: { id: number; extended: boolean },
  entry: { name: string } | null,
  options: SaveOptions,
  edits: (message: Message | undefined, at: Path) => Edit[],
): Promise<DictionaryChange> {
  const file = `dictionary/${bus}.yaml`;
  const read = await readText(folder, file);
  if (read.kind === 'problem') throw new AcceptError(problemSentence(read.problem));
  const bytes =
    read.kind === 'read' ? read.bytes : Buffer.from(`form: dictionary/1\nbus: ${bus}\nmessages: []\n`);
  const before = understood(file, bytes);
  const known = before.messages.findIndex((m) => m.id === message.id && m.extended === message.extended);
  if (known < 0 && entry === null) throw new AcceptError(`${file} does not have this message any more`);
  if (known < 0 && before.messages.some((m) => m.name === entry?.name))
    throw new AcceptError(`a message "${entry?.name}" is in the dictionary already: choose another name`);
  const add: Edit[] = known < 0 ? [{ do: 'append', path: ['messages'], value: entry }] : [];
  const at = ['messages', known < 0 ? before.messages.length : known];
  const text = new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
  const after = editYaml(text, [...add, ...edits(before.messages[known], at)]);
  const old = new Set(dictionaryProblems(before).map((p) => JSON.stringify(p)));
  const fresh = dictionaryProblems(understood(file, Buffer.from(after))).find(
    (p) => !old.has(JSON.stringify(p)),
  );
  if (fresh !== undefined)
    throw new AcceptError(
      `it does not fit into ${file}: found ${fresh.found}; expected ${fresh.expected}; nothing was saved`,
    );
  await saveText(folder, file, after, read.kind === 'read' ? contentHash(bytes) : null, options);
  return { file, before: text, afterHash: contentHash(after) };
}

function understood(file: string, bytes: Uint8Array): Dictionary {
  const { parsed, problems } = parseYaml(file, bytes);
  const { schema, form } = FILE_KINDS.dictionary;
  const checked =
    parsed === null || problems.length > 0 ? { value: null, problems } : checkFields(parsed, schema, form);
  if (checked.value !== null) return camelKeys(checked.value);
  const first = checked.problems[0];
  throw new AcceptError(`mend the dictionary first: ${first === undefined ? file : problemSentence(first)}`);
}
