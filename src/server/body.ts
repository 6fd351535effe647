/** The bytes of a request as they come in, given up where nothing more comes. */
import { Refusal } from './refusal.ts';

/** Longest time between two pieces of a body, milliseconds. */
const QUIET_MS = 30_000;

/** @throws Refusal 408 where the body stops coming, 400 where the connection ends in the middle of it */
export async function* bodyPieces(
  body: ReadableStream<Uint8Array> | null,
  quietMs = QUIET_MS,
): AsyncGenerator<Uint8Array, void, undefined> {
  if (body === null) return;
  const reader = body.getReader();
  try {
    for (;;) {
      const { done, value } = await inTime(reader.read(), quietMs);
      if (done) return;
      yield value;
    }
  } catch (error) {
    if (error instanceof Refusal) throw error;
    throw new Refusal(400, 'the connection ended before the whole body was here');
  } finally {
    // Not waited for: where the other side hangs, so would this.
    reader.cancel().catch(() => undefined);
  }
}

async function inTime<T>(work: Promise<T>, ms: number): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    const words = `nothing came for ${Math.round(ms / 1000)} s, so the request was given up`;
    timer = setTimeout(() => reject(new Refusal(408, words)), ms);
  });
  try {
    return await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}
