/** Server-sent events: everybody who listens hears what happens. */
import type { ServerEvent } from './api.ts';

type Listener = (text: string) => void;

/** A quiet stream is kept open by a comment this often, milliseconds. */
const KEEP_OPEN_MS = 15_000;

export class Events {
  readonly #listeners = new Set<Listener>();
  readonly #closers = new Set<() => void>();

  send(event: ServerEvent): void {
    for (const listener of this.#listeners) listener(eventText(event));
  }

  /** The stream for one listener; `hello` comes first. */
  stream(hello: ServerEvent): Response {
    const encoder = new TextEncoder();
    let stop = () => {};
    const body = new ReadableStream<Uint8Array>({
      start: (controller) => {
        const push: Listener = (text) => controller.enqueue(encoder.encode(text));
        const beat = setInterval(() => push(': still here\n\n'), KEEP_OPEN_MS);
        beat.unref();
        const close = () => controller.close();
        stop = () => {
          clearInterval(beat);
          this.#listeners.delete(push);
          this.#closers.delete(closing);
        };
        const closing = () => {
          stop();
          close();
        };
        this.#listeners.add(push);
        this.#closers.add(closing);
        push(eventText(hello));
      },
      cancel: () => stop(),
    });
    return new Response(body, { headers: { 'content-type': 'text/event-stream' } });
  }

  get listening(): number {
    return this.#listeners.size;
  }

  /** Ends every stream. */
  close(): void {
    for (const close of [...this.#closers]) close();
  }
}

function eventText({ event, data }: ServerEvent): string {
  return `event: ${event}\ndata: ${JSON.stringify(data)}\n\n`;
}
