/**
 * Findings worked out in worker threads: what a message needs by itself is handed out, message by message; what the
 * messages of a bus settle between them, and the senders meanwhile, stay in the calling thread. The rows of messages lie in
 * shared memory and are not copied. What comes out does not depend on the number of threads.
 */
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import type { Capture } from '../../capture/store.ts';
import { findAll, findPlan, type PlanOptions } from '../../findings/find.ts';
import type { Findings } from '../../findings/model.ts';
import { senderSteps } from '../../findings/senders/index.ts';
import { inSteps, type StepOptions } from '../../findings/steps.ts';
import { Crew } from './crew.ts';

export interface ThreadOptions extends StepOptions {
  buses?: readonly number[];
  /** Worker threads: as many as processors, at most 4, where absent; 0 does everything in the calling thread. */
  threads?: number;
}

/** Memory beside the rows grows with each thread. */
const MOST_THREADS = 4;

/**
 * Findings of a capture, as `findAll` gives them.
 * @throws the reason of `signal` when it is aborted; the threads are ended at once.
 */
export async function findInThreads(capture: Capture, options: ThreadOptions = {}): Promise<Findings> {
  const { threads = Math.min(MOST_THREADS, availableParallelism()) } = options;
  if (threads === 0 || !compiled()) return findAll(capture, options);
  const { signal } = options;
  signal?.throwIfAborted();
  const ending = new AbortController();
  const end = () => ending.abort(signal?.reason);
  signal?.addEventListener('abort', end, { once: true });
  const crew = new Crew(threads, ending.signal);
  try {
    return await planned(capture, options, crew, ending.signal);
  } finally {
    signal?.removeEventListener('abort', end);
    ending.abort(new Error('the work is over'));
    await crew.end();
  }
}

async function planned(
  capture: Capture,
  { buses, onProgress }: ThreadOptions,
  crew: Crew,
  signal: AbortSignal,
): Promise<Findings> {
  const choice: PlanOptions = buses ? { buses } : {};
  const progress = rising(onProgress);
  const plan = findPlan(capture, { ...choice, allocate: (bytes) => new SharedArrayBuffer(bytes) });
  let placing: ReturnType<typeof placed> | null = null;
  let asked = plan.next();
  while (!asked.done) {
    const request = asked.value;
    const share = (part: number) => progress(request.from + (request.to - request.from) * part);
    if (request.ask === 'messages') {
      const working = crew.work(request.tasks, share);
      // The senders need the capture alone: they are worked out while the threads are at the messages.
      placing ??= placed(capture, choice, signal);
      asked = plan.next(await working);
    } else if (request.ask === 'senders') {
      placing ??= placed(capture, choice, signal);
      const senders = await placing;
      if ('error' in senders) throw senders.error;
      asked = plan.next(senders.value);
    } else {
      progress(request.to);
      await new Promise((resolve) => setImmediate(resolve));
      signal.throwIfAborted();
      asked = plan.next();
    }
    signal.throwIfAborted();
  }
  progress(1);
  return asked.value;
}

/** Never rejects: nobody may be waiting when it ends. */
async function placed(capture: Capture, choice: { buses?: readonly number[] }, signal: AbortSignal) {
  try {
    return { value: await inSteps(senderSteps(capture, choice), { signal }) };
  } catch (error) {
    return { error };
  }
}

function rising(onProgress: ((share: number) => void) | undefined): (share: number) => void {
  let most = 0;
  return (share) => {
    most = Math.max(most, share);
    onProgress?.(most);
  };
}

/** Threads run compiled code only; from sources (as tests do) everything is done in the calling thread. */
function compiled(): boolean {
  return fileURLToPath(import.meta.url).endsWith('.js');
}
