/** Exit codes of every command, and how an error becomes one sentence. */

export const EXIT = {
  /** Done, nothing left open. */
  done: 0,
  /** Done, but an obligation is not proved, the build has problems, or a file was kept in part. */
  notShown: 1,
  /** The input or the command line is wrong; nothing was written. */
  badInput: 2,
  /** Stopped on request (Ctrl-C). */
  stopped: 3,
} as const;

const SYSTEM: Record<string, string> = {
  ENOENT: 'there is no such file or folder; check the path',
  EACCES: 'permission denied; make it readable (or writable) for this user',
  EPERM: 'not permitted; make it readable (or writable) for this user',
  EISDIR: 'this is a folder where a file is needed',
  ENOTDIR: 'this is a file where a folder is needed',
  ENOSPC: 'the disk is full; free some space and repeat (the old content is unchanged)',
  EROFS: 'the disk is read-only',
  EEXIST: 'this is there already; choose another name',
};

/** One sentence for a person. Programming errors say so and ask for a report; `BYWRIGHT_DEBUG=1` adds the stack. */
export function sentenceOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const { code, path } = error as NodeJS.ErrnoException;
  if (error.name === 'AbortError') return 'stopped on request; nothing half-written is left';
  if (code && SYSTEM[code]) return `${path ?? 'file'}: ${SYSTEM[code]}`;
  const builtIn = [TypeError, RangeError, ReferenceError, SyntaxError].some(
    (kind) => error.constructor === kind,
  );
  if (!builtIn) return error.message;
  const stack = process.env['BYWRIGHT_DEBUG'] ? `\n${error.stack}` : '';
  return `a mistake in the program itself (${error.message}); please report it with the command you gave${stack}`;
}
