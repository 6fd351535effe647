/** Hooks that keep a sheet in step with the server. */
import { useEffect, useLayoutEffect, useState } from 'preact/hooks';
import type { Job } from '../../src/server/api.ts';
import { AskError, ask } from './ask.ts';
import { type Live, live, noteJob, onLive } from './live.ts';

export type Reply<T> =
  | { state: 'waiting' }
  | { state: 'working'; job: Job }
  | { state: 'stopped'; again: () => void }
  | { state: 'error'; error: AskError }
  | { state: 'here'; value: T };

export function useLive(): Live {
  const [now, setNow] = useState(live());
  // Before the page is painted: what is told in between would be missed until the next time.
  useLayoutEffect(() => {
    setNow(live());
    return onLive(() => setNow(live()));
  }, []);
  return now;
}

/**
 * The answer to a question, asked again whenever the build changes or the job that it waits for ends.
 * An older answer to the same question stays on the page until the new one is there. null asks nothing.
 */
export function useReply<T>(path: string | null): Reply<T> {
  const { changes, jobs } = useLive();
  const [round, setRound] = useState(0);
  const [held, setHeld] = useState<{ path: string | null; reply: Reply<T> }>({
    path,
    reply: { state: 'waiting' },
  });
  const again = () => setRound((n) => n + 1);

  // `changes` and `round` are not read in it: they say that it is time to ask again.
  useEffect(() => {
    if (path === null) return;
    const stop = new AbortController();
    const hold = (reply: Reply<T>) => !stop.signal.aborted && setHeld({ path, reply });
    ask<T>(path, stop.signal).then(
      (answer) => {
        if (answer.job === null) return hold({ state: 'here', value: answer.value });
        noteJob(answer.job);
        hold({ state: 'working', job: answer.job });
      },
      (error) => hold({ state: 'error', error: asAskError(error) }),
    );
    return () => stop.abort();
  }, [path, changes, round]);

  const reply: Reply<T> = held.path === path ? held.reply : { state: 'waiting' };
  const job = reply.state === 'working' ? (jobs.get(reply.job.id) ?? reply.job) : null;
  useEffect(() => {
    if (job?.state === 'done') again();
  }, [job?.state, job?.id]);
  if (job === null) return reply;
  if (job.state === 'cancelled') return { state: 'stopped', again };
  if (job.state === 'failed')
    return { state: 'error', error: new AskError({ error: job.error ?? 'The work failed.' }) };
  return { state: 'working', job };
}

export function asAskError(error: unknown): AskError {
  return error instanceof AskError ? error : new AskError({ error: (error as Error).message });
}
