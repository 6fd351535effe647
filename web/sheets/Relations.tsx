/** Sheet 3 A: which signals are tied to each other, as a figure to walk through from signal to signal, and as tables. */
import { useEffect, useState } from 'preact/hooks';
import type { BuildReply, RelationsReply, TiedSignal } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import { RelationTable } from '../parts/RelationTable.tsx';
import { RelationWalk } from '../parts/RelationWalk.tsx';
import { Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, captureWords, type Route, type SignalPlace } from '../route.ts';
import { aroundOf, indexOf, messageOfSignal, signalPlace, signalTitle, startOf, tiesOf } from '../ties.ts';
import { counted, probabilityWords } from '../words.ts';

interface RelationsProps {
  route: Route;
  capture: string;
  /** Where the walk stands, from the address. */
  at: SignalPlace | null;
  reply: BuildReply;
}

export function RelationsSheet({ route, capture, at, reply }: RelationsProps) {
  const relations = useReply<RelationsReply>(`/api/captures/${encodeURIComponent(capture)}/relations`);
  const lead =
    relations.state === 'here'
      ? `${counted(relations.value.signals.length, 'signal')} in ${counted(relations.value.relations.length, 'relation')}, from ${captureWords(capture)}. Each is a finding with its probability, not a fact.`
      : `From ${captureWords(capture)}.`;
  return (
    <Sheet number="3.A" title="Relations" words="Relations" lead={lead} route={route} build={reply}>
      <p>
        <a href={addressOf({ sheet: 'messages', capture, message: null })}>Back to the messages</a>
      </p>
      <Answered reply={relations}>
        {(value) =>
          value.relations.length === 0 ? (
            <p>No relation was found: record while things move, up and down, several times.</p>
          ) : (
            <Walk reply={value} capture={capture} place={at} />
          )
        }
      </Answered>
    </Sheet>
  );
}

function Walk({
  reply,
  capture,
  place,
}: {
  reply: RelationsReply;
  capture: string;
  place: SignalPlace | null;
}) {
  const named = place === null ? -1 : indexOf(reply, place);
  const [at, setAt] = useState(named < 0 ? startOf(reply) : named);
  const [trail, setTrail] = useState<number[]>([]);
  const fromAddress = place && `${place.bus} ${place.id} ${place.ext} ${place.start}`;
  useEffect(() => {
    if (named >= 0) setAt(named);
  }, [fromAddress]);
  const walk = (to: number) => {
    if (to === at || to < 0 || to >= reply.signals.length) return;
    setTrail([...trail, at].slice(-8));
    setAt(to);
  };
  const back = () => {
    const last = trail.at(-1);
    if (last === undefined) return;
    setTrail(trail.slice(0, -1));
    setAt(last);
  };
  const centre = reply.signals[at] as TiedSignal;
  const around = aroundOf(reply, at);
  return (
    <>
      {place !== null && named < 0 && (
        <p>
          Bit {place.start} of message {place.id} is tied to nothing in this capture; the figure begins
          elsewhere.
        </p>
      )}
      <Section
        notes={
          <>
            <Note title="Reading the figure">
              Left: what comes before the signal, or what it is made of. Right: what comes after it or is made
              of it. Double line: the same quantity; dashed: its rate of change; an arrow points to what is
              later, or made of the other. Heavy frame: accepted. p: probability.
            </Note>
            <Note title="Keys">
              <kbd>↑</kbd> <kbd>↓</kbd> <kbd>←</kbd> <kbd>→</kbd> from plate to plate, <kbd>Enter</kbd> walks
              there, <kbd>Backspace</kbd> goes back, <kbd>m</kbd> opens its message.
            </Note>
            <Hints reply={reply} at={at} />
          </>
        }
      >
        <Trail reply={reply} trail={trail} back={back} />
        <RelationWalk reply={reply} at={at} walk={walk} back={back} capture={capture} />
        <p aria-live="polite">
          <b>{signalTitle(centre)}</b>, {signalPlace(centre)}:{' '}
          <a href={addressOf({ sheet: 'messages', capture, message: messageOfSignal(centre) })}>
            its message
          </a>
          {around.more > 0 && `; ${counted(around.more, 'more tie')} in the table`}.
        </p>
      </Section>
      <Section title={`Ties of ${signalTitle(centre)}`}>
        <RelationTable
          reply={reply}
          relations={[...new Set(tiesOf(reply, at).map((tie) => tie.relation))]}
          walk={walk}
        />
      </Section>
      <All reply={reply} walk={walk} />
    </>
  );
}

function Trail({ reply, trail, back }: { reply: RelationsReply; trail: number[]; back: () => void }) {
  if (trail.length === 0) return null;
  return (
    <p class="quiet">
      Walked: {trail.map((at) => signalTitle(reply.signals[at] as TiedSignal)).join(' → ')} →{' '}
      <button type="button" onClick={back}>
        Back
      </button>
    </p>
  );
}

function Hints({ reply, at }: { reply: RelationsReply; at: number }) {
  const all = reply.names.filter(({ signals }) => signals.includes(at));
  // The surest of those that say the same of several pairs.
  const mine = all
    .filter(
      (hint) =>
        !all.some((o) => o.words === hint.words && o.name === hint.name && o.probability > hint.probability),
    )
    .filter((hint, i, list) => list.findIndex((o) => o.words === hint.words && o.name === hint.name) === i);
  if (mine.length === 0) return null;
  return (
    <Note title="What it may be">
      <ul>
        {mine.map(({ name, words, probability }) => (
          <li key={`${name} ${words}`}>
            {name}, {probabilityWords(probability)}: {words}
          </li>
        ))}
      </ul>
    </Note>
  );
}

/** Everything that was found; what merely moves alike is many lines and little news. */
function All({ reply, walk }: { reply: RelationsReply; walk: (to: number) => void }) {
  const telling = reply.relations.filter(({ kind }) => kind !== 'together');
  const [isAll, setAll] = useState(false);
  const alike = reply.relations.length - telling.length;
  return (
    <Section title="All relations">
      <RelationTable reply={reply} relations={isAll ? reply.relations : telling} walk={walk} />
      {alike > 0 && (
        <p>
          <button type="button" aria-expanded={isAll} onClick={() => setAll(!isAll)}>
            {isAll ? 'Leave out' : 'Show'} {counted(alike, 'pair that moves alike', 'pairs that move alike')}
          </button>
        </p>
      )}
    </Section>
  );
}
