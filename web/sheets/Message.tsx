/** Sheet 3.n: one message: its payload strip, its fields with their evidence, and the judgement on each. */

import { useRef } from 'preact/hooks';
import type {
  BuildReply,
  DictionaryReply,
  FindingsMessageReply,
  FindingsReply,
  RetestReply,
} from '../../src/server/api.ts';
import { type Reply, useReply } from '../data/use.ts';
import { type Contradictions, fieldsOf } from '../fields.ts';
import { against, clockWords } from '../messageList.ts';
import { MessageFields } from '../parts/MessageFields.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, captureWords, type MessagePlace, type Route } from '../route.ts';
import { counted, figure, milliseconds, TIMING } from '../words.ts';

interface MessageProps {
  route: Route;
  capture: string;
  place: MessagePlace;
  findings: Reply<FindingsReply>;
  retest: Reply<RetestReply>;
  reply: BuildReply;
}

export function MessageSheet({ route, capture, place, findings, retest, reply }: MessageProps) {
  const messages = findings.state === 'here' ? findings.value.messages : [];
  const at = messages.findIndex(
    ({ bus, id, ext }) => bus === place.bus && id === place.id && ext === place.ext,
  );
  const message = messages[at];
  const bus = message?.busName ?? reply.build?.buses.find(({ number }) => number === place.bus)?.name ?? null;
  const dictionary = useReply<DictionaryReply>(
    bus === null ? null : `/api/dictionary/${encodeURIComponent(bus)}`,
  );
  const known = dictionary.state === 'here' ? dictionary.value : null;
  // While entries are tested again, what was known before stays.
  const told = useRef<Contradictions>([]);
  if (retest.state === 'here') told.current = retest.value.contradictions;
  const all = told.current;
  const name = known?.dictionary?.messages.find(
    (m) => m.id === Number.parseInt(place.id, 16) && Number(m.extended) === place.ext,
  )?.name;
  const turn = (by: -1 | 1) => {
    const to = messages[at + by];
    if (to) location.hash = addressOfMessage(capture, to);
  };
  return (
    <Sheet
      number={at < 0 ? '3' : `3.${at + 1}`}
      title={
        <>
          Message <code>{place.id}</code>
          {name ? `, ${name},` : ''} of bus {bus ?? place.bus}
        </>
      }
      words={`Message ${place.id}`}
      lead={message && `${leadOf(message)} From ${captureWords(capture)}.`}
      route={route}
      build={reply}
    >
      <Answered reply={findings}>
        {() =>
          message === undefined ? (
            <p>
              {captureWords(capture)}: no message {place.id} on bus {bus ?? place.bus}:{' '}
              <a href={addressOf({ sheet: 'messages', capture, message: null })}>see what it has</a>.
            </p>
          ) : (
            <>
              <MessageFields
                key={`${place.bus} ${place.id} ${place.ext}`}
                number={`3.${at + 1}`}
                capture={capture}
                message={message}
                fields={fieldsOf(message, known?.dictionary ?? null, all)}
                undo={known?.undo ?? 0}
                contradictions={against(message, all)
                  .filter(({ field }) => field === 'message')
                  .map(({ text }) => text)}
                turn={turn}
              />
              <Turn capture={capture} messages={messages} at={at} />
            </>
          )
        }
      </Answered>
    </Sheet>
  );
}

function leadOf(message: FindingsMessageReply): string {
  const { timing, periodMs, jitterMs, frames, length, missing, sender } = message;
  const every =
    periodMs !== null && (timing === 'periodic' || timing === 'mixed')
      ? `Every ${figure(periodMs)} ms${jitterMs === null ? '' : ` with a jitter of ${milliseconds(jitterMs)} ms`}${timing === 'mixed' ? ', and on change' : ''}`
      : `Sent ${TIMING[timing]}`.replace('Sent too', 'Timing: too');
  const lost = missing ? `, about ${counted(missing, 'frame')} missing` : '';
  const clock = sender.group === null ? '' : `; clock ${clockWords(message)}`;
  return `${every}; ${counted(frames, 'frame')} of ${counted(length, 'byte')}${lost}${clock}.`;
}

/** The sheet before and the one after, as at the foot of a page. */
function Turn({ capture, messages, at }: { capture: string; messages: FindingsMessageReply[]; at: number }) {
  const link = (to: number, words: string) => {
    const message = messages[to];
    if (message === undefined) return <span />;
    return (
      <a href={addressOfMessage(capture, message)}>
        {words} 3.{to + 1}, message <code>{message.id}</code>
      </a>
    );
  };
  return (
    <nav class="turn" aria-label="Neighbouring messages">
      {link(at - 1, 'Before:')}
      {link(at + 1, 'Next:')}
    </nav>
  );
}

function addressOfMessage(capture: string, { bus, id, ext }: MessagePlace): string {
  return addressOf({ sheet: 'messages', capture, message: { bus, id, ext } });
}
