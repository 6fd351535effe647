/** Sheet 3: the messages of a capture, or of all together, each with its fingerprint, its clock and what is open. */
import { useEffect, useLayoutEffect, useRef, useState } from 'preact/hooks';
import type { BuildReply, FindingsMessageReply, FindingsReply, RetestReply } from '../../src/server/api.ts';
import type { Reply } from '../data/use.ts';
import { against, listed, ORDERS, type Order } from '../messageList.ts';
import { Contradicted } from '../parts/Contradicted.tsx';
import { MessageRow } from '../parts/MessageRow.tsx';
import { MessagesNotes } from '../parts/MessagesNotes.tsx';
import { Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, captureWords, type Route, TOGETHER } from '../route.ts';
import { counted, durationWords } from '../words.ts';

interface MessagesProps {
  route: Route;
  capture: string | null;
  findings: Reply<FindingsReply>;
  retest: Reply<RetestReply>;
  reply: BuildReply;
}

export function MessagesSheet({ route, capture, findings, retest, reply }: MessagesProps) {
  const lead =
    capture === null
      ? 'Choose the capture whose messages are to be understood.'
      : findings.state === 'here'
        ? `${counted(findings.value.messages.length, 'message')} in ${captureWords(capture)}, ${durationWords(findings.value.seconds)}. A finding counts for nothing until you accept it.`
        : `From ${captureWords(capture)}.`;
  return (
    <Sheet number="3" title="Messages" words="Messages" lead={lead} route={route} build={reply}>
      <Choice captures={reply.captures.map(({ name }) => name)} chosen={capture} />
      {capture !== null && (
        <Answered reply={findings}>
          {(value) => <List key={capture} {...{ capture, retest, reply }} findings={value} />}
        </Answered>
      )}
    </Sheet>
  );
}

function Choice({ captures, chosen }: { captures: string[]; chosen: string | null }) {
  if (captures.length === 0) {
    return (
      <Section>
        <p class="quiet">
          There is no capture yet. Put a recording into <code>captures/</code>.
        </p>
      </Section>
    );
  }
  if (captures.length === 1 && chosen !== null) return null;
  const all = captures.length > 1 ? [...captures, TOGETHER] : captures;
  return (
    <p class="choice">
      {all.map((name, i) => (
        <span key={name}>
          {i > 0 && ' · '}
          {name === chosen ? (
            <b>{captureWords(name)}</b>
          ) : (
            <a href={addressOf({ sheet: 'messages', capture: name, message: null })}>{captureWords(name)}</a>
          )}
        </span>
      ))}
    </p>
  );
}

interface ListProps {
  findings: FindingsReply;
  capture: string;
  retest: Reply<RetestReply>;
  reply: BuildReply;
}

/** Kept while the page is open, so that coming back from a message finds the list as it was left. */
const asLeft = { order: 'identifier' as Order, wanted: '', chosen: '' };

function List({ findings, capture, retest, reply }: ListProps) {
  const [order, setOrder] = useState<Order>(asLeft.order);
  const [wanted, setWanted] = useState(asLeft.wanted);
  const [chosen, setChosen] = useState(asLeft.chosen);
  useEffect(() => void Object.assign(asLeft, { order, wanted, chosen }), [order, wanted, chosen]);
  const place = useRef<HTMLDivElement>(null);
  const filter = useRef<HTMLInputElement>(null);
  const contradictions = retest.state === 'here' ? retest.value.contradictions : [];
  const messages = listed(findings.messages, contradictions, order, wanted);
  const buses = [...new Set(findings.messages.map(({ bus }) => bus))];
  const rows = buses.flatMap((bus) => messages.filter((m) => m.bus === bus));
  const at = Math.max(
    0,
    rows.findIndex((message) => keyOf(message) === chosen),
  );
  const focus = (to: number) => {
    const message = rows[to];
    if (message === undefined) return;
    setChosen(keyOf(message));
    place.current?.querySelectorAll<HTMLElement>('tbody a')[to]?.focus();
  };
  useLayoutEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      const isTyping = (event.target as Element).closest('input, select, textarea') !== null;
      if (event.ctrlKey || event.metaKey || event.altKey || isTyping) return;
      if (event.key === '/') filter.current?.focus();
      else if (event.key === 's')
        setOrder((now) => ORDERS[(ORDERS.indexOf(now) + 1) % ORDERS.length] as Order);
      else return;
      event.preventDefault();
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  }, []);
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const isFilter = event.target === filter.current;
    if (event.key === 'Escape' && isFilter) setWanted('');
    else if (event.key === 'ArrowDown') focus(isFilter ? 0 : Math.min(rows.length - 1, at + 1));
    else if (event.key === 'ArrowUp' && !isFilter) focus(Math.max(0, at - 1));
    else if (event.key === 'Home' && !isFilter) focus(0);
    else if (event.key === 'End' && !isFilter) focus(rows.length - 1);
    else return;
    event.preventDefault();
  };
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: it hears the keys of the links and the filter inside.
    <div ref={place} onKeyDown={onKeyDown}>
      <Contradicted retest={retest} reply={reply} />
      <div class="list-head">
        <label>
          Only with{' '}
          <input
            ref={filter}
            value={wanted}
            onInput={(event) => setWanted((event.currentTarget as HTMLInputElement).value)}
            aria-describedby="list-count"
          />
        </label>
        <label>
          Order by{' '}
          <select
            value={order}
            onChange={(event) => setOrder((event.currentTarget as HTMLSelectElement).value as Order)}
          >
            {ORDERS.map((name) => (
              <option key={name}>{name}</option>
            ))}
          </select>
        </label>
        <span id="list-count" aria-live="polite">
          {rows.length === findings.messages.length
            ? counted(rows.length, 'message')
            : `${rows.length} of ${counted(findings.messages.length, 'message')}`}
        </span>
        <span class="sheets">
          <a href={addressOf({ sheet: 'messages', capture, message: null, view: { kind: 'relations' } })}>
            3.A Relations
          </a>{' '}
          <a href={addressOf({ sheet: 'messages', capture, message: null, view: { kind: 'cues' } })}>
            3.B What followed the cues
          </a>
        </span>
      </div>
      {rows.length === 0 && <p class="quiet">No message has “{wanted}” in its line.</p>}
      {buses.map((bus) => {
        const mine = rows.filter((m) => m.bus === bus);
        if (mine.length === 0) return null;
        const isFirst = mine[0] === rows[0];
        return (
          <Section
            key={bus}
            title={`Bus ${mine[0]?.busName ?? bus}`}
            notes={isFirst && <MessagesNotes findings={findings} message={rows[at]} />}
          >
            <table class="messages">
              <thead>
                <tr>
                  <th>sheet</th>
                  <th>message</th>
                  <th>name</th>
                  <th>fingerprint</th>
                  <th class="n">period, ms</th>
                  <th>found</th>
                  <th>clock</th>
                  <th class="n">accepted</th>
                </tr>
              </thead>
              <tbody>
                {mine.map((message) => (
                  <MessageRow
                    key={keyOf(message)}
                    message={message}
                    number={findings.messages.indexOf(message) + 1}
                    capture={capture}
                    isChosen={rows[at] === message}
                    isContradicted={against(message, contradictions).length > 0}
                    choose={() => setChosen(keyOf(message))}
                  />
                ))}
              </tbody>
            </table>
          </Section>
        );
      })}
    </div>
  );
}

function keyOf({ bus, id, ext }: FindingsMessageReply): string {
  return `${bus} ${id} ${ext}`;
}
