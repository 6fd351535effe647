/** How an obligation fails: the play-back of a counterexample as a time plot. */
import { useState } from 'preact/hooks';
import { movingSeries, trace } from '../../src/dossier/figures/index.ts';
import type { CounterexampleForm } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import { figure } from '../words.ts';
import { Figure } from './Figure.tsx';
import { Note, Section } from './Section.tsx';
import { Answered } from './Waiting.tsx';

/** Steps shown before and after the broken one, and lanes shown unless all are asked for. */
const BEFORE = 40;
const AFTER = 8;
const LANES = 10;

type Column = CounterexampleForm['columns'][number];

export function Counterexample({ number, name, file }: { number: string; name: string; file: string }) {
  const reply = useReply<CounterexampleForm>(
    `/api/evidence/${encodeURIComponent(file.replace(/^evidence\//, ''))}`,
  );
  const [lanes, setLanes] = useState<'telling' | 'all'>('telling');
  return (
    <Answered reply={reply}>
      {(form) => {
        const steps = form.columns[0]?.values.length ?? 0;
        const from = Math.max(0, form.brokenAtStep - BEFORE);
        const to = Math.max(0, Math.min(steps - 1, form.brokenAtStep + AFTER));
        const { moving, still } = movingSeries(form.columns, from, to);
        const ordered = [...moving].sort((a, b) => placeOf(a) - placeOf(b));
        const shown = lanes === 'all' ? ordered : ordered.slice(0, LANES);
        return (
          <Section title={`How “${name}” fails`} notes={<LaneNotes shown={shown} still={still} at={from} />}>
            <p>{form.sentence}</p>
            <Figure
              number={number}
              draw={(document) =>
                trace(
                  {
                    obligation: form.obligation,
                    stepMs: form.stepMs,
                    brokenAtStep: form.brokenAtStep,
                    series: shown,
                  },
                  { document, from, to },
                )
              }
              data={[form, lanes]}
            >
              Play-back from switching on: steps {from} to {to}. Inputs first, then outputs, then what the
              program keeps.
            </Figure>
            {ordered.length > LANES && (
              <button type="button" onClick={() => setLanes(lanes === 'all' ? 'telling' : 'all')}>
                {lanes === 'all' ? `Only the first ${LANES}` : `All ${ordered.length} values that move`}
              </button>
            )}
          </Section>
        );
      }}
    </Answered>
  );
}

const ORDER: Record<Column['kind'], number> = { input: 0, output: 1, state: 2, value: 3 };

/** Readings of the clock always move and tell nothing: they come last. */
function placeOf({ kind, note }: Column): number {
  return ORDER[kind] + (/^ms\b/.test(note) ? 10 : 0);
}

function LaneNotes({ shown, still, at }: { shown: Column[]; still: Column[]; at: number }) {
  const standing = still.filter(({ kind }) => kind !== 'value');
  return (
    <>
      <Note title="What moves">
        <dl>
          {shown.map(({ name, note }) => (
            <div key={name}>
              <dt>{name}</dt>
              <dd>{note || 'true or false'}</dd>
            </div>
          ))}
        </dl>
      </Note>
      {standing.length > 0 && (
        <Note title="What stands still meanwhile">
          {standing.map(({ name, values }) => `${name} ${figure(values[at] ?? Number.NaN)}`).join(', ')}.
        </Note>
      )}
    </>
  );
}
