/** One recording that waits for a yes or no: what it holds, how its text was read, and the name it would get. */
import { useId, useState } from 'preact/hooks';
import type { IncomingFile, IncomingReading } from '../../src/server/api.ts';
import { type AskError, tell } from '../data/ask.ts';
import { asAskError, useReply } from '../data/use.ts';
import { bytesWords, count, counted, durationWords, timeWords } from '../words.ts';
import { IncomingText } from './IncomingText.tsx';
import { Answered, Failure } from './Waiting.tsx';

interface CardProps {
  file: IncomingFile;
  /** Called when it waits no more, with what was done. */
  settled: (id: string, sentence: string) => void;
}

export function IncomingCard({ file, settled }: CardProps) {
  const [columns, setColumns] = useState('');
  const [error, setError] = useState<AskError | null>(null);
  const [busy, setBusy] = useState(false);
  const path = `/api/incoming/${encodeURIComponent(file.id)}`;
  const reply = useReply<IncomingReading>(
    columns === '' ? path : `${path}?columns=${encodeURIComponent(columns)}`,
  );
  const head = useId();
  const send = async (verb: 'accept' | 'refuse', body: object, done: string) => {
    setBusy(true);
    setError(null);
    try {
      await tell(`${path}/${verb}`, body);
      settled(file.id, done);
    } catch (e) {
      setError(asAskError(e));
      setBusy(false);
    }
  };
  const refuse = (
    <button
      type="button"
      disabled={busy}
      onClick={() =>
        send('refuse', {}, `${file.name} was refused and deleted here; your own file is as it was.`)
      }
    >
      Refuse
    </button>
  );
  return (
    <section class="judgement incoming" aria-labelledby={head}>
      <h3 id={head}>
        {file.name}, {bytesWords(file.bytes)}, not yet in the build
      </h3>
      <Answered reply={reply}>
        {(reading) => (
          <>
            {reading.error !== null && (
              <div role="alert" class="failure">
                <p>{reading.error.replace(' (option columns)', ' below')}</p>
              </div>
            )}
            {reading.read && <Contents read={reading.read} />}
            {reading.text && <IncomingText text={reading.text} columns={columns} setColumns={setColumns} />}
            {reading.keep && (
              <Keep
                key={reading.keep.name}
                keep={reading.keep}
                busy={busy}
                accept={(name) =>
                  send(
                    'accept',
                    columns === '' ? { name } : { name, columns },
                    `captures/${name} is in the build.`,
                  )
                }
              >
                {refuse}
              </Keep>
            )}
          </>
        )}
      </Answered>
      {error && <Failure error={error} />}
      {!(reply.state === 'here' && reply.value.keep) && <p>{refuse}</p>}
    </section>
  );
}

function Contents({ read }: { read: NonNullable<IncomingReading['read']> }) {
  return (
    <>
      <p>
        Read as {read.format}: {read.guess}. {counted(read.frames, 'frame')} in {durationWords(read.seconds)}
        {read.origin ? `, the first at ${timeWords(read.origin)}` : ', times relative to the first frame'}.
      </p>
      {read.notes.length > 0 && (
        <>
          <p>
            <b>Noticed while reading</b>
          </p>
          <ul>
            {read.notes.map((note) => (
              <li key={note}>{note}</li>
            ))}
          </ul>
        </>
      )}
      <table>
        <thead>
          <tr>
            <th>bus</th>
            <th class="n">frames</th>
            <th class="n">messages</th>
            <th>identifiers</th>
          </tr>
        </thead>
        <tbody>
          {read.buses.map(({ bus, name, frames, messages, ids }) => (
            <tr key={bus}>
              <th scope="row">{name ?? `${bus}, not in buses.yaml`}</th>
              <td class="n">{count(frames)}</td>
              <td class="n">{count(messages)}</td>
              <td>
                <code>{ids.join(' ')}</code>
                {messages > ids.length && ` and ${count(messages - ids.length)} more`}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

interface KeepProps {
  keep: NonNullable<IncomingReading['keep']>;
  busy: boolean;
  accept: (name: string) => void;
  /** The other answer, which stands beside this one. */
  children: preact.ComponentChildren;
}

function Keep({ keep, busy, accept, children }: KeepProps) {
  const [name, setName] = useState(keep.free);
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        accept(name.trim());
      }}
    >
      {keep.sameAs !== null && (
        <p>
          <b>captures/{keep.sameAs} has the same content,</b> byte for byte: there is no need to keep it
          twice.
        </p>
      )}
      {keep.free !== keep.name && (
        <p>captures/{keep.name} is there already and is not overwritten: this one needs another name.</p>
      )}
      <div class="inputs">
        <label>
          Name in captures/
          {keep.form === 'pcapng' && ' (kept as pcapng, so that the columns need not be guessed again)'}
          <input
            required
            spellcheck={false}
            value={name}
            onInput={(event) => setName((event.currentTarget as HTMLInputElement).value)}
          />
        </label>
      </div>
      <p class="answers">
        <button type="submit" class="main" disabled={busy}>
          Accept
        </button>{' '}
        {children}
      </p>
    </form>
  );
}
