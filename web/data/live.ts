/** What the server tells by itself: that the build's files changed, and how its jobs get on. */
import type { ListeningStatus } from '../../src/build/listen/status.ts';
import type { Job, JobsReply, ServerEvent } from '../../src/server/api.ts';
import { ask } from './ask.ts';

export interface Live {
  /** Counts up whenever a file of the build changed, or the evidence kept in it. */
  changes: number;
  jobs: ReadonlyMap<string, Job>;
  /** What is being recorded into the build now. */
  recordings: readonly ListeningStatus[];
}

let now: Live = { changes: 0, jobs: new Map(), recordings: [] };
const listeners = new Set<() => void>();
let stream: EventSource | null = null;

export function live(): Live {
  return now;
}

/** Calls `listener` after every change, opening the stream of events at the first call; returns how to stop. */
export function onLive(listener: () => void): () => void {
  if (stream === null) stream = opened();
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** Takes in a job that a reply carried, unless the events were quicker. */
export function noteJob(job: Job): void {
  if (!now.jobs.has(job.id)) setJobs([job]);
}

function opened(): EventSource {
  const events = new EventSource('/api/events');
  const on = <E extends ServerEvent['event']>(
    event: E,
    take: (data: Extract<ServerEvent, { event: E }>['data']) => void,
  ) => events.addEventListener(event, (message) => take(JSON.parse((message as MessageEvent<string>).data)));
  let known = '';
  const seen = (revision: string) => {
    if (known !== '' && known !== revision) set({ ...now, changes: now.changes + 1 });
    known = revision;
  };
  on('hello', ({ revision }) => {
    seen(revision);
    // Jobs that moved while nobody listened.
    ask<JobsReply>('/api/jobs').then(
      ({ value }) => value && setJobs(value.jobs),
      () => {},
    );
  });
  on('changed', ({ revision }) => seen(revision));
  on('job', (job) => setJobs([job]));
  on('listening', ({ recordings }) => set({ ...now, recordings }));
  return events;
}

function setJobs(jobs: Job[]): void {
  const map = new Map(now.jobs);
  for (const job of jobs) map.set(job.id, job);
  set({ ...now, jobs: map });
}

function set(next: Live): void {
  now = next;
  for (const listener of listeners) listener();
}
