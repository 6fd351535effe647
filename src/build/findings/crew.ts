/** A few worker threads that take tasks one by one, the longest first; results come back in the order of the tasks. */
import { Worker } from 'node:worker_threads';
import type { MessageResult, MessageTask } from '../../findings/messageWork.ts';
import type { Answer, Order } from './worker.ts';

export class Crew {
  #workers: Worker[];
  #signal: AbortSignal;

  /** Threads are ended when `signal` fires. */
  constructor(threads: number, signal: AbortSignal) {
    this.#workers = Array.from(
      { length: threads },
      () => new Worker(new URL('./worker.js', import.meta.url)),
    );
    this.#signal = signal;
    for (const worker of this.#workers) worker.setMaxListeners(0);
    signal.addEventListener('abort', () => void this.end(), { once: true });
  }

  async end(): Promise<void> {
    await Promise.all(this.#workers.map((worker) => worker.terminate()));
  }

  /**
   * Results of the tasks in their order.
   * @throws what a task threw, or the reason of the signal
   */
  work(tasks: readonly MessageTask[], onProgress: (share: number) => void): Promise<MessageResult[]> {
    const results = new Array<MessageResult>(tasks.length);
    if (tasks.length === 0) return Promise.resolve(results);
    const waiting = tasks.map((_, k) => k).sort((a, b) => effort(tasks[b]) - effort(tasks[a]) || a - b);
    let done = 0;
    return new Promise((resolve, reject) => {
      if (this.#signal.aborted) return reject(this.#signal.reason);
      const stop: (() => void)[] = [];
      const leave = (finish: () => void) => {
        for (const off of stop.splice(0)) off();
        finish();
      };
      const aborted = () => leave(() => reject(this.#signal.reason));
      this.#signal.addEventListener('abort', aborted, { once: true });
      stop.push(() => this.#signal.removeEventListener('abort', aborted));
      for (const worker of this.#workers) {
        const next = () => {
          const index = waiting.shift();
          if (index !== undefined) worker.postMessage({ index, task: tasks[index] } as Order);
        };
        const answered = (answer: Answer) => {
          if ('error' in answer) return leave(() => reject(answer.error));
          results[answer.index] = withRows(answer.result, tasks[answer.index] as MessageTask);
          onProgress(++done / tasks.length);
          if (done === tasks.length) leave(() => resolve(results));
          else next();
        };
        const failed = (error: Error) => leave(() => reject(error));
        worker.on('message', answered);
        worker.on('error', failed);
        stop.push(() => worker.off('message', answered).off('error', failed));
        next();
      }
    });
  }
}

/** Work grows with frames, and much more with the bits of the payload. */
function effort(task: MessageTask | undefined): number {
  const rows = task?.rows;
  return rows ? rows.count * rows.length + 2000 * rows.length ** 2 : 0;
}

/** Puts back the rows that the thread left out of its answer. */
function withRows(result: MessageResult, { rows }: MessageTask): MessageResult {
  if ('search' in result) result.search.rows = rows;
  else if ('layouts' in result)
    for (const layout of result.layouts) {
      layout.rows ??= rows;
      if (layout.draft) layout.draft.rows = layout.rows;
    }
  else result.rows = rows;
  return result;
}
