/** The cues of a capture below its time axis: listed, added, changed, deleted, and taken back. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { CuesReply } from '../../../src/server/api.ts';
import { counted } from '../../words.ts';
import { Problems } from '../Problems.tsx';
import { Failure } from '../Waiting.tsx';
import type { AxisCue, TimeAxis } from './axis.ts';
import { CueForm, type Draft } from './CueForm.tsx';
import { same } from './drawCues.ts';
import { lengthText } from './span.ts';
import { useRest } from './useAxis.ts';
import type { CueWork } from './useCues.ts';

interface CueEditorProps {
  axis: TimeAxis;
  /** The stretch that was marked last, as often as one is. */
  marked: { startS: number; endS: number } | null;
  reply: CuesReply;
  work: CueWork;
}

export function CueEditor({ axis, marked, reply, work }: CueEditorProps) {
  useRest(axis);
  const [draft, setDraft] = useState<Draft | null>(null);
  const place = useRef<HTMLDivElement>(null);
  // A finished mark is a new cue that only lacks its name.
  useEffect(() => {
    if (marked) setDraft({ cue: null, name: '', ...marked, sheet: work.sheetForNew() });
  }, [marked]);
  const close = () => {
    setDraft(null);
    axis.mark = null;
    axis.changed();
    place.current?.querySelector<HTMLElement>('button')?.focus();
  };
  const begin = () => {
    const at = axis.cursorS ?? axis.view.from;
    setDraft({ cue: null, name: '', startS: at, endS: at, sheet: work.sheetForNew() });
  };
  return (
    <div class="cues" ref={place}>
      <p class="actions">
        <button type="button" onClick={begin}>
          Add a cue …
        </button>{' '}
        <button type="button" disabled={reply.undo === 0} onClick={work.undo}>
          Take back the last change
        </button>{' '}
        <span role="status">{work.said}</span>
      </p>
      {work.error && <Failure error={work.error} />}
      {draft && (
        <CueForm
          key={draftKey(draft)}
          axis={axis}
          draft={draft}
          names={namesOf(axis)}
          work={work}
          close={close}
        />
      )}
      {reply.problems.length > 0 && <Problems problems={reply.problems} />}
      {axis.cues.length > 0 ? (
        <CueTable
          axis={axis}
          reply={reply}
          edit={(cue) => setDraft({ ...cue, cue, sheet: work.sheetOf(cue) })}
          work={work}
        />
      ) : (
        <p class="quiet">
          No cue yet: drag over the band above the lanes, or press <kbd>[</kbd> and <kbd>]</kbd> at start and
          end.
        </p>
      )}
    </div>
  );
}

interface CueTableProps {
  axis: TimeAxis;
  reply: CuesReply;
  edit: (cue: AxisCue) => void;
  work: CueWork;
}

function CueTable({ axis, reply, edit, work }: CueTableProps) {
  const show = (cue: AxisCue) => {
    const air = Math.max(0.2, cue.endS - cue.startS);
    axis.chosen = cue;
    axis.show({ from: cue.startS - air, to: cue.endS + air });
    axis.point(cue.startS);
  };
  const overlaps = reply.sheets.flatMap(({ file, cues, overlaps }) =>
    overlaps.map(({ earlier, later }) => ({
      file,
      index: later,
      name: cues[later]?.name ?? '',
      other: cues[earlier],
    })),
  );
  const sorted = [...axis.cues].sort((a, b) => a.startS - b.startS);
  return (
    <table class="cue-list">
      <caption class="unseen">{counted(sorted.length, 'cue')} of this capture</caption>
      <thead>
        <tr>
          <th>cue</th>
          <th class="n">start, s</th>
          <th class="n">end, s</th>
          <th class="n">lasts</th>
          <th class="n">level</th>
          <th>note</th>
          <th>
            <span class="unseen">what to do</span>
          </th>
        </tr>
      </thead>
      <tbody>
        {sorted.map((cue) => {
          const over = overlaps.find((o) => o.file === cue.file && o.index === cue.index);
          const turned = cue.endS < cue.startS;
          return (
            <tr
              key={`${cue.file} ${cue.index}`}
              class={axis.chosen && same(axis.chosen, cue) ? 'chosen' : undefined}
            >
              <th scope="row">{cue.name}</th>
              <td class="n">{cue.startS}</td>
              <td class="n">{cue.endS}</td>
              <td class="n">{turned ? '–' : lengthText(cue.endS - cue.startS)}</td>
              <td class="n">{cue.level ?? '–'}</td>
              <td>
                {cue.note}
                {turned && <b class="told"> ends before it starts</b>}
                {over && (
                  <b class="told">
                    {' '}
                    begins while the one from {over.other?.startS} to {over.other?.endS} s still lasts
                  </b>
                )}
              </td>
              <td class="doing">
                <button
                  type="button"
                  onClick={() => show(cue)}
                  aria-label={`Show ${cue.name} at ${cue.startS} s`}
                >
                  Show
                </button>{' '}
                {cue.file === '' ? (
                  <span class="quiet">changed in its CSV file</span>
                ) : (
                  <>
                    <button
                      type="button"
                      onClick={() => edit(cue)}
                      aria-label={`Change ${cue.name} at ${cue.startS} s`}
                    >
                      Change …
                    </button>{' '}
                    <button
                      type="button"
                      onClick={() =>
                        work.change(
                          work.sheetOf(cue),
                          { do: 'delete', index: cue.index },
                          `Cue “${cue.name}” is deleted.`,
                        )
                      }
                      aria-label={`Delete ${cue.name} at ${cue.startS} s`}
                    >
                      Delete
                    </button>
                  </>
                )}
              </td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

function namesOf(axis: TimeAxis): string[] {
  return [...new Set(axis.cues.map(({ name }) => name))].sort();
}

function draftKey({ cue, startS, endS }: Draft): string {
  return cue === null ? `${startS} ${endS}` : `${cue.file} ${cue.index}`;
}
