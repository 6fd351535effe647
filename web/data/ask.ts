/** Questions to the server of this workbench, and only to it. */
import { type ErrorReply, type Job, type JobReply, TOKEN_HEADER, TOKEN_META } from '../../src/server/api.ts';

/** The server, or the way to it, said no: one sentence, and problems where the build's files are the cause. */
export class AskError extends Error {
  readonly problems: NonNullable<ErrorReply['problems']>;

  constructor({ error, problems }: ErrorReply) {
    super(error);
    this.problems = problems ?? [];
  }
}

/** An answer, or the job that has to end before there is one. */
export type Answer<T> = { value: T; job: null } | { value: null; job: Job };

export async function ask<T>(path: string, signal?: AbortSignal): Promise<Answer<T>> {
  const reply = await send(path, signal ? { signal } : {});
  if (reply.status === 202) return { value: null, job: (reply.body as JobReply).job };
  return { value: reply.body as T, job: null };
}

/** A write: carries the token that the server put into the page. */
export async function tell<T>(path: string, body: unknown): Promise<T> {
  const token = document.querySelector<HTMLMetaElement>(`meta[name="${TOKEN_META}"]`)?.content ?? '';
  const reply = await send(path, {
    method: 'POST',
    headers: { 'content-type': 'application/json', [TOKEN_HEADER]: token },
    body: JSON.stringify(body),
  });
  return reply.body as T;
}

async function send(path: string, init: RequestInit): Promise<{ status: number; body: unknown }> {
  let reply: Response;
  try {
    reply = await fetch(path, init);
  } catch (error) {
    if ((error as Error).name === 'AbortError') throw error;
    throw new AskError({
      error:
        'The workbench does not answer: start it again with "bywright open" in the build’s folder, then reload this page.',
    });
  }
  const body: unknown = await reply.json().catch(() => null);
  if (reply.ok && body !== null) return { status: reply.status, body };
  const told = (body as ErrorReply | null)?.error;
  throw new AskError(
    told
      ? (body as ErrorReply)
      : { error: `The server answered ${reply.status} to ${path} without saying why.` },
  );
}
