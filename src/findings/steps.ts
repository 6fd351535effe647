/** Long work in steps: progress, a turn for the rest of the program, and a stop on request. */

export interface StepOptions {
  onProgress?: (share: number) => void;
  signal?: AbortSignal;
}

/**
 * Runs `steps` to their end; each yields the share done, 0 … 1.
 * @throws the reason of `signal` when it is aborted.
 */
export async function inSteps<T>(steps: Generator<number, T>, options: StepOptions): Promise<T> {
  for (;;) {
    options.signal?.throwIfAborted();
    const step = steps.next();
    if (step.done) {
      options.onProgress?.(1);
      return step.value;
    }
    options.onProgress?.(step.value);
    await new Promise((resolve) => setTimeout(resolve, 0));
  }
}
