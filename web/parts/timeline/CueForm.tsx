/** One cue to be filled in. It is saved against the sheet as it was when the form was opened: an edit from outside is told. */
import { useId, useLayoutEffect, useRef } from 'preact/hooks';
import type { AxisCue, TimeAxis } from './axis.ts';
import type { CueWork, SheetMark } from './useCues.ts';

export interface Draft {
  /** The cue that is changed; null for a new one. */
  cue: AxisCue | null;
  name: string;
  startS: number;
  endS: number;
  level?: number | undefined;
  note?: string | undefined;
  sheet: SheetMark;
}

interface CueFormProps {
  axis: TimeAxis;
  draft: Draft;
  names: string[];
  work: CueWork;
  close: () => void;
}

export function CueForm({ axis, draft, names, work, close }: CueFormProps) {
  const form = useRef<HTMLFormElement>(null);
  const list = useId();
  useLayoutEffect(() => form.current?.querySelector('input')?.focus(), []);
  const field = (name: string) => form.current?.elements.namedItem(name) as HTMLInputElement;
  const atCursor = (name: string) => {
    if (axis.cursorS !== null) field(name).value = rounded(axis.cursorS);
  };
  const onSubmit = async (event: SubmitEvent) => {
    event.preventDefault();
    const text = (name: string) => field(name).value.trim();
    const cue = {
      name: text('name'),
      startS: Number(text('start')),
      endS: Number(text('end')),
      ...(text('level') !== '' && { level: Number(text('level')) }),
      ...(text('note') !== '' && { note: text('note') }),
    };
    const said = `Cue “${cue.name}” is in ${draft.sheet.file}.`;
    const done =
      draft.cue === null
        ? await work.change(draft.sheet, { do: 'add', cue }, said)
        : await work.change(draft.sheet, { do: 'change', index: draft.cue.index, cue }, said);
    if (done) close();
  };
  return (
    <form
      ref={form}
      class="judgement cue-form"
      aria-label={draft.cue === null ? 'Add a cue' : `Change the cue ${draft.cue.name}`}
      onSubmit={onSubmit}
      onKeyDown={(event) => event.key === 'Escape' && close()}
    >
      <div class="inputs">
        <label>
          What was done
          <input
            name="name"
            list={list}
            defaultValue={draft.name}
            required
            maxLength={200}
            autoComplete="off"
          />
          <datalist id={list}>
            {names.map((name) => (
              <option key={name} value={name} />
            ))}
          </datalist>
        </label>
        <label>
          Start, s
          <input name="start" type="number" step="any" defaultValue={rounded(draft.startS)} required />
        </label>
        <label>
          End, s
          <input name="end" type="number" step="any" defaultValue={rounded(draft.endS)} required />
        </label>
        <label>
          Level, where it has one
          <input
            name="level"
            type="number"
            step="any"
            defaultValue={draft.level === undefined ? '' : String(draft.level)}
          />
        </label>
        <label class="wide">
          Note
          <input name="note" defaultValue={draft.note ?? ''} maxLength={4000} />
        </label>
      </div>
      <p>
        <button type="submit" class="main" disabled={work.busy}>
          {draft.cue === null ? 'Add' : 'Keep the change'}
        </button>{' '}
        <button type="button" onClick={close}>
          Back
        </button>{' '}
        <button type="button" onClick={() => atCursor('start')}>
          Start at the cursor
        </button>{' '}
        <button type="button" onClick={() => atCursor('end')}>
          End at the cursor
        </button>
      </p>
    </form>
  );
}

function rounded(seconds: number): string {
  return String(Math.round(seconds * 1e6) / 1e6);
}
