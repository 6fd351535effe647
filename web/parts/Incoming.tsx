/** Takes recordings in: dropped or chosen, sent, looked at, and only then kept or deleted. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { IncomingFile, IncomingReply } from '../../src/server/api.ts';
import { type AskError, ask } from '../data/ask.ts';
import { sendRecording } from '../data/send.ts';
import { asAskError } from '../data/use.ts';
import { bytesWords } from '../words.ts';
import { IncomingCard } from './IncomingCard.tsx';
import { Failure } from './Waiting.tsx';

interface Sending {
  name: string;
  bytes: number;
  done: number;
  stop: AbortController;
}

export function Incoming() {
  const [waiting, setWaiting] = useState<IncomingReply | null>(null);
  const [sending, setSending] = useState<Sending | null>(null);
  const [errors, setErrors] = useState<{ name: string; error: AskError }[]>([]);
  const [said, setSaid] = useState('');
  const [over, setOver] = useState(false);
  const chooser = useRef<HTMLInputElement>(null);
  const button = useRef<HTMLButtonElement>(null);
  const queue = useRef<Promise<void>>(Promise.resolve());
  const look = () =>
    ask<IncomingReply>('/api/incoming').then(
      ({ value }) => setWaiting(value),
      () => {},
    );

  const send = async (file: File) => {
    const stop = new AbortController();
    setSending({ name: file.name, bytes: file.size, done: 0, stop });
    try {
      await sendRecording(file, stop.signal, (done) => setSending((now) => now && { ...now, done }));
      setSaid(`${file.name} is here: look at it below, then accept or refuse it.`);
    } catch (error) {
      if (stop.signal.aborted) setSaid(`${file.name} was stopped; nothing of it was kept.`);
      else setErrors((all) => [...all, { name: file.name, error: asAskError(error) }]);
    }
    setSending(null);
    await look();
  };
  const take = (files: FileList | null | undefined) => {
    const chosen = [...(files ?? [])];
    if (chosen.length === 0) return;
    setErrors([]);
    setSaid('');
    // One after the other: the disk is no quicker for two, and progress stays one line.
    for (const file of chosen) queue.current = queue.current.then(() => send(file));
  };

  useEffect(() => {
    void look();
    // Anywhere on the sheet: a file dropped beside the box would otherwise replace the page.
    const hasFiles = (event: DragEvent) => event.dataTransfer?.types.includes('Files') ?? false;
    const drag = (event: DragEvent) => {
      if (!hasFiles(event)) return;
      event.preventDefault();
      setOver(true);
    };
    const leave = (event: DragEvent) => event.relatedTarget === null && setOver(false);
    const drop = (event: DragEvent) => {
      if (!hasFiles(event)) return;
      event.preventDefault();
      setOver(false);
      take(event.dataTransfer?.files);
    };
    addEventListener('dragover', drag);
    addEventListener('dragleave', leave);
    addEventListener('drop', drop);
    return () => {
      removeEventListener('dragover', drag);
      removeEventListener('dragleave', leave);
      removeEventListener('drop', drop);
    };
  }, []);

  const settled = (id: string, sentence: string) => {
    setSaid(sentence);
    setWaiting((now) => now && { ...now, waiting: now.waiting.filter((file) => file.id !== id) });
    void look();
    button.current?.focus();
  };
  return (
    <>
      <div class={over ? 'slot over' : 'slot'}>
        {sending === null ? (
          <p>
            Drop recordings anywhere on this sheet, or{' '}
            <button type="button" ref={button} onClick={() => chooser.current?.click()}>
              Choose files
            </button>
          </p>
        ) : (
          <SendingLine sending={sending} />
        )}
        <input
          type="file"
          multiple
          hidden
          ref={chooser}
          aria-label="Recordings to take in"
          onChange={(event) => {
            const input = event.currentTarget as HTMLInputElement;
            take(input.files);
            // The same file can be chosen again after it was refused.
            input.value = '';
          }}
        />
        <p class="quiet">
          At most {bytesWords(waiting?.largestBytes ?? 2 ** 31)} each. What you send is shown first; the build
          keeps it only when you accept it.
        </p>
      </div>
      {errors.map(({ name, error }) => (
        <Failure key={name} error={error} />
      ))}
      <p aria-live="polite" class="said">
        {said}
      </p>
      {waiting?.waiting.map((file: IncomingFile) => (
        <IncomingCard key={file.id} file={file} settled={settled} />
      ))}
    </>
  );
}

function SendingLine({ sending: { name, bytes, done, stop } }: { sending: Sending }) {
  const percent = bytes > 0 ? Math.min(100, Math.floor((100 * done) / bytes)) : 0;
  return (
    <div class="job">
      <p>
        Sending {name}: {bytesWords(done)} of {bytesWords(bytes)}, {percent} %{' '}
        <button type="button" onClick={() => stop.abort()}>
          Stop
        </button>
      </p>
      <div
        class="rule"
        role="progressbar"
        aria-label={`Sending ${name}`}
        aria-valuemin={0}
        aria-valuemax={100}
        aria-valuenow={percent}
      >
        <div style={{ width: `${percent}%` }} />
      </div>
    </div>
  );
}
