/** Changes of what stands in a dictionary already: a signal put right, a rejection taken back, the last change undone. */
import { snakeKeys } from '../dictionary/case.ts';
import type { Message } from '../dictionary/model.ts';
import { changeDictionary, type DictionaryChange, type Path } from './dictionaryChange.ts';
import type { Edit } from './edit.ts';
import type { SignalCut } from './entries.ts';
import { AcceptError, isMadeUp, signalIndex } from './findingTarget.ts';
import { type SaveOptions, saveText } from './save.ts';

/** Where a signal stands in its message. */
export interface SignalPlaceInMessage {
  id: number;
  extended: boolean;
  start: number;
  length: number;
  selectorValue: number | null;
}

/** Whatever is left out stays as it is. */
export interface SignalChange extends Partial<SignalCut> {
  name?: string | undefined;
  unit?: string | undefined;
  scale?: number | undefined;
  offset?: number | undefined;
  min?: number | undefined;
  max?: number | undefined;
  note?: string | undefined;
}

/** Changes an entry; its evidence stays beside it, and a new cut is told there. Throws as `acceptFinding` does. */
export async function editSignal(
  folder: string,
  bus: string,
  place: SignalPlaceInMessage,
  change: SignalChange,
  options: SaveOptions = {},
): Promise<DictionaryChange> {
  return changeDictionary(folder, bus, place, null, options, (message, at) => {
    const { index, path } = standing(message, at, place);
    const old = snakeKeys(message?.signals[index]) as Record<string, unknown>;
    const name = change.name?.trim();
    if (change.name !== undefined && !name) throw new AcceptError('a signal needs a name: what it measures');
    if (name && message?.signals.some((s, i) => s.name === name && i !== index))
      throw new AcceptError(`a signal "${name}" is in this message already: choose another name`);
    const wanted = snakeKeys({ ...change, ...(name && { name }) }) as Record<string, unknown>;
    const edits = Object.entries(wanted)
      .filter(([field, value]) => value !== undefined && old[field] !== value)
      .map(([field, value]): Edit => ({ do: 'set', path: [...path, field], value }));
    const isCut = ['start', 'length', 'byte_order', 'signed'].some(
      (field) => wanted[field] !== undefined && wanted[field] !== old[field],
    );
    if (isCut)
      edits.push({
        do: 'append',
        path: [...path, 'evidence'],
        value: {
          text: `cut by hand; before it stood at bit ${old['start']}, ${old['length']} long, ${old['byte_order']}`,
        },
      });
    return edits;
  });
}

/** Turns down an entry, also where a capture no longer finds it: it keeps its name and its evidence, and the reason as its note. */
export async function rejectEntry(
  folder: string,
  bus: string,
  place: SignalPlaceInMessage,
  reason: string | undefined,
  options: SaveOptions = {},
): Promise<DictionaryChange> {
  return changeDictionary(folder, bus, place, null, options, (message, at) => {
    const { index, path } = standing(message, at, place);
    if (message?.signals[index]?.state === 'rejected')
      throw new AcceptError(`the signal "${message.signals[index]?.name}" is rejected already`);
    const note: Edit[] = reason?.trim() ? [{ do: 'set', path: [...path, 'note'], value: reason.trim() }] : [];
    return [{ do: 'set', path: [...path, 'state'], value: 'rejected' }, ...note];
  });
}

/** A rejected finding is open again: its entry goes. One that somebody had named is proposed again and keeps what it had. */
export async function takeBackRejection(
  folder: string,
  bus: string,
  place: SignalPlaceInMessage,
  options: SaveOptions = {},
): Promise<DictionaryChange> {
  return changeDictionary(folder, bus, place, null, options, (message, at) => {
    const { index, path } = standing(message, at, place);
    if (message?.signals[index]?.state !== 'rejected')
      throw new AcceptError(`the field at bit ${place.start}, ${place.length} long, is not rejected`);
    return isMadeUp(message.signals[index]?.name ?? '')
      ? [{ do: 'remove', path }]
      : [{ do: 'set', path: [...path, 'state'], value: 'proposed' }];
  });
}

/** Puts the file back to what it was before the change. Throws `SaveError` where it is no longer what the change left. */
export async function undoChange(
  folder: string,
  { file, before, afterHash }: DictionaryChange,
  options: SaveOptions = {},
): Promise<void> {
  await saveText(folder, file, before, afterHash, options);
}

function standing(
  message: Message | undefined,
  at: Path,
  place: SignalPlaceInMessage,
): { index: number; path: Path } {
  const index = signalIndex(message, place);
  if (index < 0)
    throw new AcceptError(
      `the dictionary has no signal at bit ${place.start}, ${place.length} long, any more`,
    );
  return { index, path: [...at, 'signals', index] };
}
