/** Exit codes of every command, and how an error becomes one sentence. */

export const EXIT = {
  /** Done, nothing left open. */
  done: 0,
  /** Done, but something was not shown or is wrong in the build. */
  notShown: 1,
  /** The input or the command line is wrong; what would have come of it was not written. */
  badInput: 2,
  /** Stopped on request (Ctrl-C, or the system's wish to end). */
  stopped: 3,
} as const;

const SYSTEM: Record<string, string> = {
  ENOENT: 'there is no such file or folder; check the path',
  EACCES: 'permission denied; make it readable (or writable) for this user',
  EPERM: 'not permitted; make it readable (or writable) for this user',
  EISDIR: 'this is a folder where a file is needed',
  ENOTDIR: 'this is a file where a folder is needed',
  ENOSPC: 'the disk is full; free some space and repeat (the old content is unchanged)',
  EDQUOT: 'your share of the disk is used up; free some space and repeat (the old content is unchanged)',
  EROFS: 'the disk is read-only; name a place on another disk',
  EEXIST: 'this is there already; choose another name',
  ENAMETOOLONG: 'this name is too long for the disk; choose a shorter one',
  ELOOP: 'these links lead in a circle; name the file itself',
  EIO: 'the disk does not answer (input/output error); try another disk',
  EMFILE: 'too many files are open on this computer; close other programs and repeat',
  EBUSY: 'another program holds this; close it there and repeat',
};

/** One sentence for a person. Programming errors say so and ask for a report; `BYWRIGHT_DEBUG=1` adds the stack. */
export function sentenceOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  if (error.name === 'AbortError') return 'stopped on request; nothing half-written is left';
  const { code, path } = error as NodeJS.ErrnoException;
  // Of a copy or a renaming, the place that could not be written is the second one.
  const place = (error as { dest?: string }).dest ?? path;
  if (code && SYSTEM[code]) return `${place ?? 'a file'}: ${SYSTEM[code]}`;
  const builtIn = [TypeError, RangeError, ReferenceError, SyntaxError].some(
    (kind) => error.constructor === kind,
  );
  if (!builtIn) return error.message;
  const stack = process.env['BYWRIGHT_DEBUG'] ? `\n${error.stack}` : '';
  return `a mistake in the program itself (${error.message}); please report it with the command you gave${stack}`;
}
