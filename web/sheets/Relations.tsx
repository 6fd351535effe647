/** Sheet 3 A: which signals are tied to each other, as a figure to walk through from signal to signal, and as tables. */
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import { relationDrawing } from '../../src/dossier/figures/index.ts';
import type { BuildReply, RelationsReply, TiedSignal } from '../../src/server/api.ts';
import { useReply } from '../data/use.ts';
import { Figure } from '../parts/Figure.tsx';
import { Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, captureWords, type Route, type SignalPlace } from '../route.ts';
import {
  aroundOf,
  delayWords,
  formulaWords,
  indexOf,
  kindWords,
  messageOfSignal,
  type Relation,
  signalPlace,
  signalTitle,
  startOf,
  tiesOf,
} from '../ties.ts';
import { counted, figure, probabilityWords } from '../words.ts';

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
        <WalkFigure reply={reply} at={at} walk={walk} back={back} capture={capture} />
        <p aria-live="polite">
          <b>{signalTitle(centre)}</b>, {signalPlace(centre)}:{' '}
          <a href={addressOf({ sheet: 'messages', capture, message: messageOfSignal(centre) })}>
            its message
          </a>
          {around.more > 0 && `; ${counted(around.more, 'more tie')} in the table`}.
        </p>
      </Section>
      <Section title={`Ties of ${signalTitle(centre)}`}>
        <Table
          reply={reply}
          relations={[...new Set(tiesOf(reply, at).map((tie) => tie.relation))]}
          walk={walk}
        />
      </Section>
      <All reply={reply} walk={walk} />
    </>
  );
}

interface WalkFigureProps {
  reply: RelationsReply;
  at: number;
  walk: (to: number) => void;
  back: () => void;
  capture: string;
}

function WalkFigure({ reply, at, walk, back, capture }: WalkFigureProps) {
  const place = useRef<HTMLDivElement>(null);
  const isWalking = useRef(false);
  const plates = () => [...(place.current?.querySelectorAll<SVGGElement>('[data-signal]') ?? [])];
  const middle = () => plates().find((plate) => plate.dataset['signal'] === String(at));
  useLayoutEffect(() => {
    middle()?.setAttribute('tabindex', '0');
    // Who walks by keyboard stays in the figure; it was drawn anew.
    if (isWalking.current) middle()?.focus();
    isWalking.current = false;
  }, [at, reply]);
  const go = (to: number) => {
    isWalking.current = true;
    walk(to);
  };
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const plate = (event.target as Element).closest<SVGGElement>('[data-signal]');
    if (plate === null) return;
    const to = Number(plate.dataset['signal']);
    if (event.key === 'Enter' || event.key === ' ') go(to);
    else if (event.key === 'Backspace') {
      isWalking.current = true;
      back();
    } else if (event.key === 'm') {
      location.hash = addressOf({
        sheet: 'messages',
        capture,
        message: messageOfSignal(reply.signals[to] as TiedSignal),
      });
    } else {
      const next = neighbourOf(plates(), plate, event.key);
      if (next === null) return;
      next.focus();
    }
    event.preventDefault();
  };
  const onClick = (event: MouseEvent) => {
    const plate = (event.target as Element).closest<SVGGElement>('[data-signal]');
    if (plate) go(Number(plate.dataset['signal']));
  };
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: the plates inside are the buttons; this hears them all.
    <div ref={place} class="walk" onKeyDown={onKeyDown} onClick={onClick}>
      <Figure
        number="3.A-1"
        draw={(document) => relationDrawing(aroundOf(reply, at), { document, plates: 'walk' })}
        data={[reply, at]}
      >
        Signals tied to {signalTitle(reply.signals[at] as TiedSignal)}; over each line what the tie is, under
        it the delay and how sure it is.
      </Figure>
    </div>
  );
}

/** The plate nearest in the direction of an arrow key, by where they are drawn. */
function neighbourOf(plates: SVGGElement[], from: SVGGElement, key: string): SVGGElement | null {
  const direction = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[key];
  if (direction === undefined) return null;
  const [dx, dy] = direction as [number, number];
  const middleOf = (plate: SVGGElement) => {
    const { x, y, width, height } = plate.getBoundingClientRect();
    return { x: x + width / 2, y: y + height / 2 };
  };
  const here = middleOf(from);
  let best: SVGGElement | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const plate of plates) {
    const there = middleOf(plate);
    const along = (there.x - here.x) * dx + (there.y - here.y) * dy;
    const across = Math.abs((there.x - here.x) * dy) + Math.abs((there.y - here.y) * dx);
    if (plate === from || along < 10) continue;
    const far = along + 2 * across;
    if (far < least) [least, best] = [far, plate];
  }
  return best;
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

interface TableProps {
  reply: RelationsReply;
  relations: Relation[];
  walk: (to: number) => void;
}

function Table({ reply, relations, walk }: TableProps) {
  const link = (at: number) => (
    <button
      type="button"
      class="signal"
      onClick={() => walk(at)}
      title={signalPlace(reply.signals[at] as TiedSignal)}
    >
      {signalTitle(reply.signals[at] as TiedSignal)}
    </button>
  );
  return (
    <div class="wide">
      <table class="relations">
        <thead>
          <tr>
            <th>first</th>
            <th>second</th>
            <th>gives</th>
            <th>tie</th>
            <th>raw values</th>
            <th>delay</th>
            <th class="n">r</th>
            <th class="n">probability</th>
          </tr>
        </thead>
        <tbody>
          {relations.map((relation) => (
            <tr key={`${relation.kind} ${relation.from} ${relation.with} ${relation.to}`}>
              <td>{link(relation.from)}</td>
              <td>{relation.with === null ? '–' : link(relation.with)}</td>
              <td>{link(relation.to)}</td>
              <td>{kindWords(relation)}</td>
              <td>{formulaWords(relation)}</td>
              <td>
                {delayWords(relation)}
                {delayWords(relation) !== 'at once' &&
                  ` (${figure(1000 * relation.delayLowS)} … ${figure(1000 * relation.delayHighS)})`}
              </td>
              <td class="n">{relation.r.toFixed(3)}</td>
              <td class="n">{probabilityWords(relation.probability)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** Everything that was found; what merely moves alike is many lines and little news. */
function All({ reply, walk }: { reply: RelationsReply; walk: (to: number) => void }) {
  const telling = reply.relations.filter(({ kind }) => kind !== 'together');
  const [isAll, setAll] = useState(false);
  const alike = reply.relations.length - telling.length;
  return (
    <Section title="All relations">
      <Table reply={reply} relations={isAll ? reply.relations : telling} walk={walk} />
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
