/** Sheet 3: the messages of one capture, each with its fingerprint and what was found in it. */
import { payloadFingerprint } from '../../src/dossier/figures/index.ts';
import type { BuildReply, CaptureReply, FindingsMessageReply, FindingsReply } from '../../src/server/api.ts';
import { type Reply, useReply } from '../data/use.ts';
import { Drawing } from '../parts/Figure.tsx';
import { Note, Section } from '../parts/Section.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { Answered } from '../parts/Waiting.tsx';
import { addressOf, type Route } from '../route.ts';
import { counted, durationWords, milliseconds } from '../words.ts';

interface MessagesProps {
  route: Route;
  capture: string | null;
  findings: Reply<FindingsReply>;
  reply: BuildReply;
}

export function MessagesSheet({ route, capture, findings, reply }: MessagesProps) {
  const lead =
    capture === null
      ? 'Choose the capture whose messages are to be understood.'
      : findings.state === 'here'
        ? `${counted(findings.value.messages.length, 'message')} in ${capture}, ${durationWords(findings.value.seconds)}. A finding counts for nothing until you accept it.`
        : `Capture ${capture}.`;
  return (
    <Sheet number="3" title="Messages" words="Messages" lead={lead} route={route} build={reply}>
      <Choice captures={reply.captures.map(({ name }) => name)} chosen={capture} />
      {capture !== null && (
        <Answered reply={findings}>{(value) => <List findings={value} capture={capture} />}</Answered>
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
  return (
    <p class="choice">
      {captures.map((name, i) => (
        <span key={name}>
          {i > 0 && ' · '}
          {name === chosen ? (
            <b>{name}</b>
          ) : (
            <a href={addressOf({ sheet: 'messages', capture: name, message: null })}>{name}</a>
          )}
        </span>
      ))}
    </p>
  );
}

function List({ findings, capture }: { findings: FindingsReply; capture: string }) {
  const census = useReply<CaptureReply>(`/api/captures/${encodeURIComponent(capture)}`);
  const known = census.state === 'here' ? census.value.messages : [];
  const buses = [...new Set(findings.messages.map(({ bus }) => bus))];
  return (
    <>
      {buses.map((bus, i) => {
        const messages = findings.messages.filter((m) => m.bus === bus);
        return (
          <Section
            key={bus}
            title={`Bus ${messages[0]?.busName ?? bus}`}
            notes={
              i === 0 && (
                <Note title="Fingerprint">
                  One bar for each bit, its height how often the bit changes; byte 0 at the left, the highest
                  bit of each byte first. Messages that carry the same kind of thing look alike.
                </Note>
              )
            }
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
                  <th class="n">accepted</th>
                </tr>
              </thead>
              <tbody>
                {messages.map((message) => (
                  <Row
                    key={`${message.id} ${message.ext}`}
                    message={message}
                    name={
                      known.find((m) => m.bus === bus && m.id === message.id && m.ext === message.ext)
                        ?.dictionaryName ?? null
                    }
                    findings={findings}
                    capture={capture}
                  />
                ))}
              </tbody>
            </table>
          </Section>
        );
      })}
    </>
  );
}

interface RowProps {
  message: FindingsMessageReply;
  /** From the dictionary; null where nobody has named it. */
  name: string | null;
  findings: FindingsReply;
  capture: string;
}

function Row({ message, name, findings, capture }: RowProps) {
  const { bus, id, ext, flipRate } = message;
  return (
    <tr>
      <td>3.{findings.messages.indexOf(message) + 1}</td>
      <th scope="row">
        <a href={addressOf({ sheet: 'messages', capture, message: { bus, id, ext } })}>
          <code>{id}</code>
        </a>
      </th>
      <td>{name ?? '–'}</td>
      <td class="fingerprint">
        <Drawing
          draw={(document) => payloadFingerprint({ name: id, flipRate }, { document })}
          data={[flipRate]}
        />
      </td>
      <td class="n">
        {message.timing === 'periodic' || message.timing === 'mixed' ? milliseconds(message.periodMs) : '–'}
      </td>
      <td>{foundWords(message)}</td>
      <td class="n">{acceptedWords(message)}</td>
    </tr>
  );
}

/** "3 numbers, 2 flags, counter, check". */
export function foundWords({ signals, counter, check, selector }: FindingsMessageReply): string {
  const kinds = (['number', 'enum', 'flag'] as const).flatMap((kind) => {
    const found = signals.filter((signal) => signal.kind === kind).length;
    return found > 0 ? [counted(found, kind)] : [];
  });
  const words = [...kinds, selector && 'selector', counter && 'counter', check && 'check'].filter(Boolean);
  return words.length > 0 ? words.join(', ') : 'nothing that changes';
}

function acceptedWords({ signals, counter, check, selector }: FindingsMessageReply): string {
  const telling = [
    ...signals.filter(({ kind }) => kind !== 'constant' && kind !== 'padding'),
    ...[counter, check, selector].filter((finding) => finding !== null),
  ];
  const accepted = telling.filter(({ state }) => state === 'accepted').length;
  return telling.length === 0 ? '–' : `${accepted} of ${telling.length}`;
}
