/** Reference channels of a capture: one of them laid over a signal, and the clock that makes them agree accepted. */
import { useId, useState } from 'preact/hooks';
import { overlaid } from '../../src/dossier/figures/index.ts';
import type { AcceptClockRequest, AlignmentReply, ReferencesReply } from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { asAskError, useReply } from '../data/use.ts';
import { counted, durationWords, figure, sentence, timeWords } from '../words.ts';
import { Figure } from './Figure.tsx';
import { Caution, Note, Section } from './Section.tsx';
import { Answered, Failure } from './Waiting.tsx';

type Channel = ReferencesReply['channels'][number];

export function ReferenceAlignment({ number, capture }: { number: string; capture: string }) {
  const path = `/api/captures/${encodeURIComponent(capture)}/references`;
  const reply = useReply<ReferencesReply>(path);
  // A capture without channels needs no section about them, nor one that comes and goes.
  if (reply.state === 'waiting' || (reply.state === 'here' && reply.value.channels.length === 0)) return null;
  return (
    <Section title="Reference channels" notes={<ClockNotes />}>
      <Answered reply={reply}>{(value) => <Channels number={number} path={path} reply={value} />}</Answered>
    </Section>
  );
}

function ClockNotes() {
  return (
    <>
      <Note title="Two clocks">
        A recorder beside the bus has a clock of its own. Where a signal moves as the reference does, the
        offset is the one at which the two agree best; the delay of the signal on its way to the bus is part
        of it.
      </Note>
      <Note title="Interval">
        The offset lies in it for 95 of 100 drives of this kind, by leaving out one twentieth of the overlap
        after the other.
      </Note>
    </>
  );
}

function Channels({ number, path, reply }: { number: string; path: string; reply: ReferencesReply }) {
  const [chosen, setChosen] = useState<string | null>(null);
  const [said, setSaid] = useState('');
  const channel = reply.channels.find((c) => c.name === chosen) ?? null;
  return (
    <>
      <table class="references">
        <thead>
          <tr>
            <th>channel</th>
            <th class="n">readings</th>
            <th>unit</th>
            <th>clock</th>
            <th>
              <span class="unseen">what can be done</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {reply.channels.map((c) => (
            <tr key={c.path} class={c.name === chosen ? 'chosen' : undefined}>
              <th scope="row">
                {c.name}
                <br />
                <code>{c.path}</code>
              </th>
              <td class="n">{c.values.toLocaleString('en')}</td>
              <td>{c.unit || '–'}</td>
              <td>{clockWords(c)}</td>
              <td>
                <button
                  type="button"
                  aria-expanded={c.name === chosen}
                  disabled={c.values === 0}
                  onClick={() => {
                    setSaid('');
                    setChosen(c.name === chosen ? null : c.name);
                  }}
                >
                  Lay over a signal …
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="said" role="status">
        {said}
      </p>
      {channel && (
        <Overlay
          key={channel.path}
          number={number}
          path={path}
          channel={channel}
          signals={reply.signals}
          say={setSaid}
        />
      )}
    </>
  );
}

function clockWords({ clock, values, seconds }: Channel): string {
  if (values === 0) return 'data cannot be used; the Build sheet says why';
  const half = clock.halfS === null ? '' : ` ± ${clock.halfS.toFixed(3)}`;
  const offset = clock.offsetS === null ? '' : `offset ${signed(clock.offsetS)}${half} s`;
  switch (clock.state) {
    case 'accepted': {
      const when = clock.accepted ? `, ${timeWords(clock.accepted)}` : '';
      return `accepted${when}: ${offset}${clock.signal ? `, with ${clock.signal}` : ''}`;
    }
    case 'typed':
      return 'typed on the clock of the capture';
    case 'dates':
      return `by the dates of both, not compared: ${offset}`;
    case 'unknown':
      return `not known; ${durationWords(seconds)} on a clock of its own`;
  }
}

interface OverlayProps {
  number: string;
  path: string;
  channel: Channel;
  signals: string[];
  say: (sentence: string) => void;
}

function Overlay({ number, path, channel, signals, say }: OverlayProps) {
  const [signal, setSignal] = useState(channel.clock.signal ?? '');
  const [near, setNear] = useState<number | null>(null);
  const [words, setWords] = useState(signal);
  const list = useId();
  const input = useId();
  const query = new URLSearchParams({ channel: channel.name, signal });
  if (near !== null) query.set('near', String(near));
  const reply = useReply<AlignmentReply>(signal === '' ? null : `${path}/alignment?${query}`);
  return (
    <>
      <form
        class="overlay"
        onSubmit={(event) => {
          event.preventDefault();
          setNear(null);
          setSignal(words.trim());
        }}
      >
        <label for={input}>Signal of the capture that moves as {channel.name} does</label>
        <input
          id={input}
          list={list}
          value={words}
          placeholder="bus message signal"
          required
          onInput={(event) => setWords((event.currentTarget as HTMLInputElement).value)}
        />
        <datalist id={list}>
          {signals.map((name) => (
            <option key={name} value={name} />
          ))}
        </datalist>{' '}
        <button type="submit">Find the offset</button>
      </form>
      {signal !== '' && (
        <Answered reply={reply}>
          {(value) => (
            <Found
              number={number}
              path={path}
              channel={channel}
              reply={value}
              near={near}
              setNear={setNear}
              say={say}
            />
          )}
        </Answered>
      )}
    </>
  );
}

interface FoundProps extends Omit<OverlayProps, 'signals'> {
  reply: AlignmentReply;
  near: number | null;
  setNear: (offsetS: number | null) => void;
}

function Found({ number, path, channel, reply, near, setNear, say }: FoundProps) {
  const [error, setError] = useState<AskError | null>(null);
  const [busy, setBusy] = useState(false);
  const { found, curves, unit } = reply;
  if (found === null || curves === null) return <p>No alignment: {sentence(reply.reason ?? '')}</p>;
  const accept = async () => {
    setBusy(true);
    try {
      const { channel: name, signal } = reply;
      const body: AcceptClockRequest = {
        channel: name,
        signal,
        offsetS: found.offsetS,
        ...(near !== null && { near }),
      };
      await tell<ReferencesReply>(`${path}/accept`, body);
      say(`The clock of ${channel.name} is in ${channel.path}.`);
      setError(null);
    } catch (e) {
      setError(asAskError(e));
    } finally {
      setBusy(false);
    }
  };
  return (
    <>
      <Figure
        number={number}
        draw={(document) =>
          overlaid(
            {
              unit,
              reference: { name: reply.channel, ...curves.reference },
              signal: { name: reply.signal, ...curves.signal },
            },
            { document },
          )
        }
        data={[reply]}
      >
        {reply.channel} on the clock of the capture, laid over {reply.signal} brought to its scale;
        correlation {found.r.toFixed(4)} from {counted(found.pairs, 'pair')} of values.
      </Figure>
      <table class="figures">
        <tbody>
          <tr>
            <th scope="row">Offset</th>
            <td>
              {signed(found.shiftS)} ± {found.shiftHalfS.toFixed(3)} s in the middle of the overlap of{' '}
              {durationWords(found.overlapS)}
            </td>
          </tr>
          <tr>
            <th scope="row">Drift</th>
            <td>
              {found.driftHalfPpm === null
                ? 'not told, taken as 0'
                : `${signed(found.driftPpm, 1)} ± ${found.driftHalfPpm.toFixed(1)} ppm`}
            </td>
          </tr>
          <tr>
            <th scope="row">Left over</th>
            <td>
              {figure(found.residual)} {unit}, root mean square
            </td>
          </tr>
          <tr>
            <th scope="row">Relation</th>
            <td>
              {reply.channel} ≈ {figure(found.slope)} × signal {found.intercept < 0 ? '−' : '+'}{' '}
              {figure(Math.abs(found.intercept))} {unit}
            </td>
          </tr>
        </tbody>
      </table>
      {found.cautions.length > 0 && (
        <Caution>
          <ul>
            {found.cautions.map((text) => (
              <li key={text}>{sentence(text)}</li>
            ))}
          </ul>
        </Caution>
      )}
      {found.rivals.length > 0 ? (
        <p>
          Which one is meant?{' '}
          {[found.offsetS, ...found.rivals.map((r) => r.offsetS)].map((offset) => (
            <button key={offset} type="button" onClick={() => setNear(offset)}>
              near {signed(offset, 1)} s
            </button>
          ))}
        </p>
      ) : (
        <p>
          <button type="button" class="main" disabled={busy} onClick={() => void accept()}>
            Accept this clock
          </button>{' '}
          <span class="quiet">
            writes offset, drift, interval and signal into <code>{channel.path}</code>
          </span>
        </p>
      )}
      {error && <Failure error={error} />}
    </>
  );
}

/** "+3.204", "−21.631". */
function signed(value: number, digits = 3): string {
  return `${value < 0 ? '−' : '+'}${Math.abs(value).toFixed(digits)}`;
}
