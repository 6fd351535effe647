/** Sheet 3.n: one message: its payload strip, its fields with their evidence, and the judgement on each. */
import { useRef, useState } from 'preact/hooks';
import { type BitLayout, payloadStrip } from '../../src/dossier/figures/index.ts';
import type {
  BuildReply,
  DictionaryReply,
  FindingsMessageReply,
  FindingsReply,
} from '../../src/server/api.ts';
import { type Reply, useReply } from '../data/use.ts';
import { type Field, fieldsOf, labelOf, stripFields } from '../fields.ts';
import { FieldSeries } from '../parts/FieldSeries.tsx';
import { FieldTable } from '../parts/FieldTable.tsx';
import { Figure } from '../parts/Figure.tsx';
import { Judgement } from '../parts/Judgement.tsx';
import { Caution, Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, type MessagePlace, type Route } from '../route.ts';
import { counted, figure, milliseconds, TIMING } from '../words.ts';

interface MessageProps {
  route: Route;
  capture: string;
  place: MessagePlace;
  findings: Reply<FindingsReply>;
  reply: BuildReply;
}

export function MessageSheet({ route, capture, place, findings, reply }: MessageProps) {
  const messages = findings.state === 'here' ? findings.value.messages : [];
  const at = messages.findIndex(
    ({ bus, id, ext }) => bus === place.bus && id === place.id && ext === place.ext,
  );
  const message = messages[at];
  const bus = message?.busName ?? reply.build?.buses.find(({ number }) => number === place.bus)?.name ?? null;
  const dictionary = useReply<DictionaryReply>(
    bus === null ? null : `/api/dictionary/${encodeURIComponent(bus)}`,
  );
  const known = dictionary.state === 'here' ? dictionary.value.dictionary : null;
  const name = known?.messages.find(
    (m) => m.id === Number.parseInt(place.id, 16) && Number(m.extended) === place.ext,
  )?.name;
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
      lead={message && leadOf(message)}
      route={route}
      build={reply}
    >
      <Answered reply={findings}>
        {() =>
          message === undefined ? (
            <p>
              Capture {capture} has no message {place.id} on bus {bus ?? place.bus}:{' '}
              <a href={addressOf({ sheet: 'messages', capture, message: null })}>see what it has</a>.
            </p>
          ) : (
            <>
              <Fields
                key={`${place.bus} ${place.id} ${place.ext}`}
                number={`3.${at + 1}`}
                capture={capture}
                message={message}
                fields={fieldsOf(message, known)}
                named={name !== undefined}
              />
              <Turn capture={capture} messages={messages} at={at} />
            </>
          )
        }
      </Answered>
    </Sheet>
  );
}

function leadOf({ timing, periodMs, jitterMs, frames, length }: FindingsMessageReply): string {
  const every =
    periodMs !== null && (timing === 'periodic' || timing === 'mixed')
      ? `Every ${figure(periodMs)} ms${jitterMs === null ? '' : ` with a jitter of ${milliseconds(jitterMs)} ms`}${timing === 'mixed' ? ', and on change' : ''}`
      : `Sent ${TIMING[timing]}`.replace('Sent too', 'Timing: too');
  return `${every}; ${counted(frames, 'frame')} of ${counted(length, 'byte')}.`;
}

interface FieldsProps {
  number: string;
  capture: string;
  message: FindingsMessageReply;
  fields: Field[];
  /** The dictionary already has a name for the message. */
  named: boolean;
}

function Fields({ number, capture, message, fields, named }: FieldsProps) {
  const [layout, setLayout] = useState<BitLayout>('falling');
  const [mark, setMark] = useState(firstTelling(fields));
  const [judging, setJudging] = useState<'accept' | 'reject' | null>(null);
  const [said, setSaid] = useState('');
  const chosen = fields.find((field) => field.mark === mark) ?? fields[0];
  const table = useRef<HTMLDivElement>(null);
  const choose = (next: string) => {
    setMark(next);
    setJudging(null);
    setSaid('');
  };
  const judge = (as: 'accept' | 'reject' | null) => {
    setJudging(as);
    if (as === null) table.current?.querySelector<HTMLElement>('[aria-pressed="true"]')?.focus();
  };
  const marks = stripFields(fields);
  return (
    <>
      <Section notes={<StripNotes layout={layout} setLayout={setLayout} />}>
        <Figure
          number={`${number}-1`}
          draw={(document) =>
            payloadStrip(
              { name: message.id, flipRate: message.flipRate, fields: marks },
              { document, layout },
            )
          }
          data={[message.flipRate, JSON.stringify(marks), layout]}
        >
          Payload strip. Bar: one bit, its height how often the bit changes; a ring: never. Brackets: fields;
          heavy where accepted, thin where found, dashed where undecided; the triangle stands at the most
          significant bit.
        </Figure>
      </Section>
      <Section title="Fields" notes={chosen && <FieldNotes field={chosen} open={message.open} />}>
        {fields.length === 0 ? (
          <p class="quiet">No field was found in this message.</p>
        ) : (
          <div ref={table}>
            <FieldTable fields={fields} chosen={mark} choose={choose} judge={judge} />
          </div>
        )}
        {chosen && (
          <Judgement
            key={`${chosen.mark} ${judging ?? ''}`}
            field={chosen}
            bus={message.busName}
            capture={capture}
            named={named}
            judging={judging}
            setJudging={judge}
            say={setSaid}
          />
        )}
        <p aria-live="polite" class="said">
          {said}
        </p>
        {chosen && <FieldSeries number={`${number}-2`} capture={capture} message={message} field={chosen} />}
      </Section>
    </>
  );
}

function firstTelling(fields: Field[]): string {
  const order = ['number', 'enum', 'flag', 'counter'];
  const best = order.map((kind) => fields.find((field) => field.kind === kind)).find(Boolean);
  return (best ?? fields[0])?.mark ?? '';
}

function StripNotes({ layout, setLayout }: { layout: BitLayout; setLayout: (layout: BitLayout) => void }) {
  return (
    <Note title="Order of the bits">
      {layout === 'falling'
        ? 'Highest bit of each byte first, as sent: a big-endian field is one piece, a little-endian field over several bytes is split and tied by dots.'
        : 'Lowest bit of each byte first: a little-endian field is one piece, a big-endian field over several bytes is split and tied by dots.'}{' '}
      <button type="button" onClick={() => setLayout(layout === 'falling' ? 'rising' : 'falling')}>
        {layout === 'falling' ? 'Draw the lowest bit first' : 'Draw the highest bit first'}
      </button>
    </Note>
  );
}

function FieldNotes({ field, open }: { field: Field; open: string[] }) {
  return (
    <>
      <Note title={`Evidence for ${field.mark}, ${labelOf(field)}`}>
        {field.evidence.length === 0 ? (
          'None is kept.'
        ) : (
          <ul>
            {field.evidence.map(({ text }) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        )}
      </Note>
      {open.length > 0 && (
        <Note title="What would settle the rest">
          <ul>
            {open.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </Note>
      )}
      <Note title="Keys">
        In the table: <kbd>↑</kbd> <kbd>↓</kbd> choose a field, <kbd>a</kbd> accept it, <kbd>r</kbd> reject
        it. <kbd>Esc</kbd> goes back.
      </Note>
      <Caution>
        A wrong field feeds a wrong limit. Confirm sign, scale and zero on the stand, wheels off the ground,
        before any power stage is connected.
      </Caution>
    </>
  );
}

/** The sheet before and the one after, as at the foot of a page. */
function Turn({ capture, messages, at }: { capture: string; messages: FindingsMessageReply[]; at: number }) {
  const link = (to: number, words: string) => {
    const message = messages[to];
    if (message === undefined) return <span />;
    const { bus, id, ext } = message;
    return (
      <a href={addressOf({ sheet: 'messages', capture, message: { bus, id, ext } })}>
        {words} 3.{to + 1}, message <code>{id}</code>
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
