/** Long work, one at a time in the order asked for, with progress, and stopped on request. */
import { randomUUID } from 'node:crypto';
import type { Job } from './api.ts';
import { sentenceOf } from './refusal.ts';

export type JobWork = (
  progress: (fraction: number, note: string) => void,
  signal: AbortSignal,
) => Promise<void>;

interface Entry {
  job: Job;
  key: string;
  stop: AbortController;
  told: number;
}

/** Shortest time between two tellings of one job's progress, milliseconds. */
const TELL_EVERY_MS = 100;
const KEEP = 50;

export class Jobs {
  readonly #entries: Entry[] = [];
  readonly #tell: (job: Job) => void;
  #queue: Promise<void> = Promise.resolve();

  /** `tell` is called whenever a job starts, moves or ends. */
  constructor(tell: (job: Job) => void) {
    this.#tell = tell;
  }

  /** Starts the work, or gives the job that is at the same work already; `key` says what makes work the same. */
  start(kind: Job['kind'], subject: string, key: string, work: JobWork): Job {
    const same = this.running(key);
    if (same !== null) return same;
    const job: Job = {
      id: randomUUID(),
      kind,
      subject,
      state: 'running',
      fraction: 0,
      note: 'waiting its turn',
      error: null,
    };
    const entry: Entry = { job, key, stop: new AbortController(), told: 0 };
    this.#entries.unshift(entry);
    if (this.#entries.length > KEEP) {
      const oldest = this.#entries.findLastIndex((e) => e.job.state !== 'running');
      if (oldest > 0) this.#entries.splice(oldest, 1);
    }
    this.#send(entry);
    this.#queue = this.#queue.then(() => this.#run(entry, work));
    return { ...job };
  }

  /** Newest first. */
  list(): Job[] {
    return this.#entries.map(({ job }) => ({ ...job }));
  }

  /** The job that is at this work now. */
  running(key: string): Job | null {
    const entry = this.#entries.find((e) => e.key === key && e.job.state === 'running');
    return entry === undefined ? null : { ...entry.job };
  }

  /** The newest job for this work that failed, unless it was asked for again since. */
  failed(key: string): Job | null {
    const newest = this.#entries.find((e) => e.key === key);
    return newest?.job.state === 'failed' ? { ...newest.job } : null;
  }

  /** null where there is no such job; a job that has ended stays as it is. */
  cancel(id: string): Job | null {
    const entry = this.#entries.find((e) => e.job.id === id);
    if (entry === undefined) return null;
    if (entry.job.state === 'running') {
      this.#end(entry, 'cancelled', null);
      entry.stop.abort();
    }
    return { ...entry.job };
  }

  cancelWhere(key: (key: string) => boolean): void {
    for (const entry of this.#entries) if (key(entry.key)) this.cancel(entry.job.id);
  }

  cancelAll(): void {
    this.cancelWhere(() => true);
  }

  async #run(entry: Entry, work: JobWork): Promise<void> {
    const { signal } = entry.stop;
    if (signal.aborted) return;
    try {
      await work((fraction, note) => this.#progress(entry, fraction, note), signal);
      this.#end(entry, 'done', null);
    } catch (error) {
      if (signal.aborted) this.#end(entry, 'cancelled', null);
      else this.#end(entry, 'failed', sentenceOf(error));
    }
  }

  #progress(entry: Entry, fraction: number, note: string): void {
    if (entry.job.state !== 'running') return;
    entry.job.fraction = Math.min(1, Math.max(entry.job.fraction, fraction || 0));
    entry.job.note = note;
    if (performance.now() - entry.told >= TELL_EVERY_MS) this.#send(entry);
  }

  #end(entry: Entry, state: 'done' | 'failed' | 'cancelled', error: string | null): void {
    if (entry.job.state !== 'running') return;
    entry.job.state = state;
    entry.job.error = error;
    if (state === 'done') entry.job.fraction = 1;
    this.#send(entry);
  }

  #send(entry: Entry): void {
    entry.told = performance.now();
    this.#tell({ ...entry.job });
  }
}
