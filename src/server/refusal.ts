/** Every error that leaves the server: one sentence, a status, never a stack. */
import type { ContentfulStatusCode } from 'hono/utils/http-status';
import type { z } from 'zod';
import type { Problem } from '../build/model.ts';
import type { ErrorReply } from './api.ts';

/** A request that is answered with an error of our own words. */
export class Refusal extends Error {
  override name = 'Refusal';
  readonly status: ContentfulStatusCode;
  readonly problems: Problem[] | undefined;

  constructor(status: ContentfulStatusCode, sentence: string, problems?: Problem[]) {
    super(sentence);
    this.status = status;
    this.problems = problems;
  }
}

/** Errors of the rooms below whose message is a sentence for people, by name. */
const STATUS: Record<string, ContentfulStatusCode> = {
  CaptureError: 422,
  AcceptError: 409,
  CueError: 409,
  ChannelError: 409,
  SignalError: 400,
  SaveError: 409,
  LockError: 409,
  ImportError: 409,
  BridgeError: 422,
  LogicError: 422,
};

const SYSTEM: Record<string, string> = {
  ENOENT: 'the file is not there any more',
  EACCES: 'the file may not be read by this user',
  EPERM: 'the file may not be read by this user',
  ENOSPC: 'the disk is full; free some space and repeat',
  EMFILE: 'too many files are open; close other programs and repeat',
};

export function errorReply(error: unknown): { status: ContentfulStatusCode; body: ErrorReply } {
  if (error instanceof Refusal) {
    const { message, status, problems } = error;
    return { status, body: problems === undefined ? { error: message } : { error: message, problems } };
  }
  return { status: statusOf(error), body: { error: sentenceOf(error) } };
}

/** A body that fits the schema. Throws `Refusal` 400 that names the first field which does not. */
export function parsed<S extends z.ZodType>(schema: S, body: unknown): z.output<S> {
  const result = schema.safeParse(body);
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  throw new Refusal(400, `${issue?.path.join('.') || 'the body'}: ${issue?.message ?? 'not as expected'}`);
}

/** One sentence; what no room has words for is called a mistake of the program. */
export function sentenceOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const code = (error as NodeJS.ErrnoException).code;
  if (error instanceof Refusal || STATUS[error.name] !== undefined) return error.message;
  if (code !== undefined && SYSTEM[code] !== undefined) return SYSTEM[code];
  return `a mistake in the program itself (${error.message.split('\n')[0]}); please report it with what you did`;
}

function statusOf(error: unknown): ContentfulStatusCode {
  return error instanceof Error ? (STATUS[error.name] ?? 500) : 500;
}
