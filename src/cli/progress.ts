/**
 * Progress on standard error: one line per stage. On a terminal the line is redrawn while work goes on; elsewhere only
 * finished stages are printed. Nothing of it ever reaches standard output.
 */

import { EXIT } from './exit.ts';

export interface Stage {
  /** Share done, 0 … 1, or words where no share is known. */
  update(progress: number | string): void;
  /** Ends the stage with what came out of it. */
  done(result: string): void;
}

export function stage(title: string, stream: NodeJS.WriteStream = process.stderr): Stage {
  const started = performance.now();
  const label = title.padEnd(12);
  let drawn = 0;
  const draw = (text: string) => {
    const now = performance.now();
    if (!stream.isTTY || now - drawn < 80) return;
    drawn = now;
    stream.write(`\r\x1b[2K${label} ${text}`);
  };
  draw('…');
  return {
    update: (progress) => draw(typeof progress === 'number' ? `${Math.round(progress * 100)} %` : progress),
    done: (result) => {
      const seconds = ((performance.now() - started) / 1000).toFixed(1);
      stream.write(`${stream.isTTY ? '\r\x1b[2K' : ''}${label} ${result}  (${seconds} s)\n`);
    },
  };
}

/** How long a stop may take before a word is said about it. */
const PATIENCE_MS = 1500;

let stopping: AbortController | null = null;

/**
 * Signal that fires when the process is asked to end: Ctrl-C, or the system's wish (SIGTERM, SIGHUP). Always the same one;
 * being asked a second time ends the process at once.
 */
export function stopOnInterrupt(): AbortSignal {
  if (stopping !== null) return stopping.signal;
  const controller = new AbortController();
  stopping = controller;
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
    process.on(signal, () => {
      if (controller.signal.aborted) process.exit(EXIT.stopped);
      controller.abort();
      // Some work can be left only at the end of a step, and a pipe only when something comes.
      setTimeout(() => process.stderr.write('Stopping; Ctrl-C again ends at once.\n'), PATIENCE_MS).unref();
    });
  }
  return controller.signal;
}
