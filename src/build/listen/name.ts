/** Names of recordings: given by a person, or by the moment at which they begin. */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { CAPTURES_FOLDER } from '../files.ts';
import { ListenError } from './error.ts';

/**
 * The name without its ending.
 * @throws ListenError where it is a path, hidden, or not a name on every system
 */
export function givenName(name: string): string {
  const plain = name.replace(/\.pcapng$/i, '');
  if (plain === '' || plain.startsWith('.') || /[/\\:*?"<>|\p{Cc}]/u.test(plain) || plain.length > 120)
    throw new ListenError(
      `"${name}" is no name for a recording: letters, digits, spaces and - are right, without a folder`,
    );
  return plain;
}

/** "2026-11-25-151203", with a number behind it where two begin in one second. */
export function freeName(folder: string): string {
  const now = new Date();
  const two = (n: number) => String(n).padStart(2, '0');
  const base = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}-${two(now.getHours())}${two(now.getMinutes())}${two(now.getSeconds())}`;
  let name = base;
  for (let k = 2; existsSync(join(folder, CAPTURES_FOLDER, `${name}.pcapng`)); k++) name = `${base}-${k}`;
  return name;
}
