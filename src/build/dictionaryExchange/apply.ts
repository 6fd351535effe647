/** Takes definitions from elsewhere into `dictionary/<bus>.yaml`, as proposals unless a person answers for them. */
import { camelKeys } from '../../dictionary/case.ts';
import { type Merge, type MergeItem, planMerge } from '../../dictionary/merge.ts';
import type { Dictionary, Signal } from '../../dictionary/model.ts';
import { dictionaryProblems } from '../../dictionary/problems.ts';
import { MAX_TEXT_BYTES, readText } from '../disk.ts';
import { type Edit, editYaml } from '../edit.ts';
import { checkFields } from '../fields.ts';
import { FILE_KINDS } from '../files.ts';
import { problemSentence } from '../problem.ts';
import { contentHash, type SaveOptions, saveText } from '../save.ts';
import { parseYaml } from '../yamlFile.ts';
import { DefinitionsError } from './read.ts';

export interface MergePlan extends Merge {
  file: string;
  /** Text of the file with all that can be added and changed. */
  text: string;
  /** SHA-256 of the file as it was read, null where there was none. */
  readHash: string | null;
}

/**
 * The incoming dictionary as it is taken in: every entry says where it comes from. Signals become proposals; with
 * `accepted` they keep the state of their file. What a file calls rejected stays rejected.
 */
export function asImported(
  dictionary: Dictionary,
  source: string,
  states: 'proposed' | 'accepted',
): Dictionary {
  const from = { text: source };
  const signal = (s: Signal): Signal => ({
    ...s,
    state: s.state === 'accepted' ? states : s.state,
    evidence: [...(s.evidence ?? []), from],
  });
  return {
    ...dictionary,
    messages: dictionary.messages.map(({ counter, check, ...message }) => ({
      ...message,
      signals: message.signals.map(signal),
      ...(counter && { counter: { ...counter, evidence: [...(counter.evidence ?? []), from] } }),
      ...(check && { check: { ...check, evidence: [...(check.evidence ?? []), from] } }),
    })),
  };
}

/** Reads the dictionary of the build and works out what would become of it; writes nothing. Throws `DefinitionsError`. */
export async function planImport(folder: string, bus: string, incoming: Dictionary): Promise<MergePlan> {
  const file = `dictionary/${bus}.yaml`;
  const read = await readText(folder, file);
  if (read.kind === 'problem') throw new DefinitionsError(problemSentence(read.problem));
  const bytes =
    read.kind === 'read' ? read.bytes : Buffer.from(`form: dictionary/1\nbus: ${bus}\nmessages: []\n`);
  const current = understood(file, bytes);
  const merge = planMerge(current, incoming);
  const before = new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
  const text = editYaml(before, edits(merge.items));
  if (Buffer.byteLength(text) > MAX_TEXT_BYTES)
    throw new DefinitionsError(
      `${file} would have more than 4 MB, which no build may; take fewer messages from the file`,
    );
  const old = new Set(dictionaryProblems(current).map((p) => JSON.stringify(p)));
  const fresh = dictionaryProblems(understood(file, Buffer.from(text))).find(
    (p) => !old.has(JSON.stringify(p)),
  );
  if (fresh !== undefined)
    throw new DefinitionsError(
      `the file does not fit into ${file}: found ${fresh.found}; expected ${fresh.expected}; nothing was saved`,
    );
  return { ...merge, file, text, readHash: read.kind === 'read' ? contentHash(bytes) : null };
}

/** Writes what `planImport` worked out. Throws `SaveError` or `LockError`; a file that changed since is left alone. */
export async function saveImport(folder: string, plan: MergePlan, options: SaveOptions = {}): Promise<void> {
  await saveText(folder, plan.file, plan.text, plan.readHash, options);
}

/** Additions to one list in one edit, since every edit reads the whole text again. */
function edits(items: readonly MergeItem[]): Edit[] {
  const sets: Edit[] = [];
  const lists = new Map<string, { path: (string | number)[]; values: unknown[] }>();
  for (const { edit } of items) {
    if (edit === undefined) continue;
    if (edit.do === 'set') {
      sets.push({ do: 'set', path: edit.path, value: edit.value });
      continue;
    }
    const key = JSON.stringify(edit.path);
    const list = lists.get(key) ?? { path: edit.path, values: [] };
    lists.set(key, list);
    list.values.push(edit.value);
  }
  return [...sets, ...[...lists.values()].map((list): Edit => ({ do: 'appendAll', ...list }))];
}

function understood(file: string, bytes: Uint8Array): Dictionary {
  const { parsed, problems } = parseYaml(file, bytes);
  const { schema, form } = FILE_KINDS.dictionary;
  const checked =
    parsed === null || problems.length > 0 ? { value: null, problems } : checkFields(parsed, schema, form);
  if (checked.value !== null) return camelKeys(checked.value);
  const first = checked.problems[0];
  throw new DefinitionsError(
    `mend the dictionary first: ${first === undefined ? file : problemSentence(first)}`,
  );
}
