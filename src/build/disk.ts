/** Reads of a build folder in which every failure is an answer, not an exception. */
import { readdir, readFile, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { Problem } from './model.ts';

/** Largest text that is read: forty times the largest dictionary we can think of. */
export const MAX_TEXT_BYTES = 4 * 1024 * 1024;

export type TextRead =
  | { kind: 'read'; bytes: Uint8Array }
  | { kind: 'missing' }
  | { kind: 'problem'; problem: Problem };

/** Bytes of one text file; a huge one is not read into memory (its problem says so). */
export async function readText(folder: string, file: string): Promise<TextRead> {
  const path = join(folder, file);
  try {
    const { size } = await stat(path);
    if (size > MAX_TEXT_BYTES) {
      const found = `${(size / 2 ** 20).toFixed(1)} MB`;
      return trouble(file, found, 'a text file of at most 4 MB; recordings belong into captures/');
    }
    return { kind: 'read', bytes: await readFile(path) };
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return { kind: 'missing' };
    const [found, expected] = readFailure(codeOf(error));
    return trouble(file, found, expected);
  }
}

/** Names of the entries of a folder inside the build, sorted; none where the folder is not there. */
export async function listFolder(
  folder: string,
  name: string,
): Promise<{ names: string[]; problems: Problem[] }> {
  try {
    const entries = await readdir(join(folder, name), { withFileTypes: true });
    const files = entries.filter((e) => (e.isFile() || e.isSymbolicLink()) && !e.name.startsWith('.'));
    return { names: files.map((e) => e.name).sort(), problems: [] };
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return { names: [], problems: [] };
    const [found, expected] =
      codeOf(error) === 'ENOTDIR' ? ['a file', 'a folder'] : folderFailure(codeOf(error));
    return { names: [], problems: [whole(`${name}/`, found, expected)] };
  }
}

function folderFailure(code: string): [found: string, expected: string] {
  const [found, expected] = readFailure(code);
  return [found.replace('a file', 'a folder'), expected.replace('a readable text file', 'a readable folder')];
}

/** What is found and expected where reading fails, by the system's error code. */
export function readFailure(code: string): [found: string, expected: string] {
  switch (code) {
    case 'EACCES':
    case 'EPERM':
      return ['a file that this user may not read', 'read permission for this user'];
    case 'EISDIR':
      return ['a folder', 'a text file'];
    case 'ENOTDIR':
      return ['a file where a folder is due', 'a folder'];
    case 'ELOOP':
      return ['links that lead in a circle', 'the file itself'];
    case 'EIO':
      return [
        'a disk that does not give the file (input/output error)',
        'a readable disk; look at its health',
      ];
    default:
      return [`a file that cannot be read (${code})`, 'a readable text file'];
  }
}

export function codeOf(error: unknown): string {
  return (
    (error as NodeJS.ErrnoException | null)?.code ?? (error instanceof Error ? error.message : String(error))
  );
}

export function whole(file: string, found: string, expected: string): Problem {
  return { file, line: 0, column: 0, field: '', found, expected };
}

function trouble(file: string, found: string, expected: string): TextRead {
  return { kind: 'problem', problem: whole(file, found, expected) };
}
