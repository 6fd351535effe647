/** Lets waiting requests be answered in the middle of long work: gives way if the last time is long ago. */
const EVERY_MS = 12;
let last = 0;

export async function breath(signal?: AbortSignal): Promise<void> {
  if (performance.now() - last < EVERY_MS) return;
  await new Promise((resolve) => setImmediate(resolve));
  signal?.throwIfAborted();
  last = performance.now();
}
