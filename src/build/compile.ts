/** Compiles a written project with the compiler of this computer, where there is one. */
import { spawnSync } from 'node:child_process';

export type Compiled =
  | { kind: 'compiled'; compiler: string }
  /** No compiler or no make: what to install. */
  | { kind: 'noCompiler'; advice: string }
  | { kind: 'failed'; output: string };

/** Runs `make` in the project's folder: -std=c99 -Wall -Wextra -Werror -pedantic, as its Makefile says. */
export function compileProject(folder: string): Compiled {
  const version = spawnSync('cc', ['--version'], { encoding: 'utf8' });
  const make = spawnSync('make', ['--version'], { encoding: 'utf8' });
  if (version.error || make.error) {
    return { kind: 'noCompiler', advice: 'no C compiler here; on Debian install gcc and make' };
  }
  const done = spawnSync('make', ['-C', folder, '-s'], { encoding: 'utf8' });
  if (done.status !== 0) return { kind: 'failed', output: `${done.stdout}${done.stderr}` };
  return { kind: 'compiled', compiler: (version.stdout.split('\n')[0] ?? 'cc').trim() };
}
