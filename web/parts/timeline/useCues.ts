/** The cues of a capture as the server has them, put on the axis, and the ways to change them. */
import { useEffect, useState } from 'preact/hooks';
import type { CueChange, CueChangeRequest, CuesReply } from '../../../src/server/api.ts';
import { type AskError, tell } from '../../data/ask.ts';
import { asAskError, type Reply, useReply } from '../../data/use.ts';
import type { AxisCue, TimeAxis } from './axis.ts';

/** A sheet as a person saw it. */
export interface SheetMark {
  file: string;
  /** null for one that is not there yet. */
  hash: string | null;
}

export interface CueWork {
  busy: boolean;
  error: AskError | null;
  /** What was done last, in a sentence. */
  said: string;
  /** Whether it was saved. */
  change: (sheet: SheetMark, change: CueChange, said: string) => Promise<boolean>;
  undo: () => void;
  sheetOf: (cue: AxisCue) => SheetMark;
  sheetForNew: () => SheetMark;
}

export function useCues(axis: TimeAxis, ask: 'now' | 'later'): { reply: Reply<CuesReply>; work: CueWork } {
  const path = `/api/captures/${encodeURIComponent(axis.capture)}/cues`;
  const asked = useReply<CuesReply>(ask === 'now' ? path : null);
  const [own, setOwn] = useState<{ after: unknown; reply: CuesReply } | null>(null);
  const [state, setState] = useState<Pick<CueWork, 'busy' | 'error' | 'said'>>({
    busy: false,
    error: null,
    said: '',
  });
  // The answer to an own change is shown until the next one that was asked for has come.
  const reply: Reply<CuesReply> =
    own !== null && own.after === asked ? { state: 'here', value: own.reply } : asked;
  const value = reply.state === 'here' ? reply.value : null;
  useEffect(() => {
    if (value === null) return;
    axis.cues = [
      ...value.sheets.flatMap(({ file, cues }) => cues.map((cue, index) => ({ ...cue, file, index }))),
      ...value.fixed.map((cue, index) => ({ ...cue, file: '', index })),
    ];
    axis.chosen = null;
    axis.changed();
  }, [axis, value]);
  const send = async (to: string, body: unknown, said: string) => {
    setState({ busy: true, error: null, said: '' });
    try {
      setOwn({ after: asked, reply: await tell<CuesReply>(to, body) });
      setState({ busy: false, error: null, said });
      return true;
    } catch (error) {
      setState({ busy: false, error: asAskError(error), said: '' });
      return false;
    } finally {
      axis.moving = null;
      axis.changed();
    }
  };
  const markOf = (file: string): SheetMark => ({
    file,
    hash: value?.sheets.find((sheet) => sheet.file === file)?.hash ?? null,
  });
  return {
    reply,
    work: {
      ...state,
      change: ({ file, hash }, change, said) =>
        send(path, { file, hash, change } satisfies CueChangeRequest, said),
      undo: () => void send(`${path}/undo`, {}, 'The last change is taken back.'),
      sheetOf: ({ file }) => markOf(file),
      sheetForNew: () => markOf(value?.sheets[0]?.file ?? value?.newFile ?? ''),
    },
  };
}
