/** One thread of a crew: does the tasks that it is sent. Rows that the sender has are left out of the answers. */
import { parentPort } from 'node:worker_threads';
import { type MessageResult, type MessageTask, messageSteps } from '../../findings/messageWork.ts';

export interface Order {
  index: number;
  task: MessageTask;
}

export type Answer = { index: number; result: MessageResult } | { index: number; error: unknown };

parentPort?.on('message', ({ index, task }: Order) => {
  parentPort?.postMessage(answerTo(index, task));
});

function answerTo(index: number, task: MessageTask): Answer {
  try {
    const steps = messageSteps(task);
    let step = steps.next();
    while (!step.done) step = steps.next();
    return { index, result: withoutRows(step.value, task) };
  } catch (error) {
    return { index, error };
  }
}

function withoutRows(result: MessageResult, task: MessageTask): MessageResult {
  const none = undefined as never;
  if ('search' in result) return { ...result, search: { ...result.search, rows: none } };
  if (!('layouts' in result)) return { ...result, rows: none };
  const layouts = result.layouts.map((layout) => ({
    ...layout,
    rows: layout.rows === task.rows ? none : layout.rows,
    draft: layout.draft && { ...layout.draft, rows: none },
  }));
  return { ...result, layouts };
}
