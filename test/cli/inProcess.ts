/** Runs the command line in this process, for tests that need no process of its own; what it writes is kept. */
import { vi } from 'vitest';
import { EXIT } from '../../src/cli/exit.ts';
import { main } from '../../src/cli/main.ts';

/** Exit code and what was written to each stream; the caller sets `process.exitCode` back. */
export async function run(...args: string[]): Promise<{ code: unknown; out: string; err: string }> {
  let [out, err] = ['', ''];
  const spies = [
    vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
      out += text;
      return true;
    }),
    vi.spyOn(process.stderr, 'write').mockImplementation((text) => {
      err += text;
      return true;
    }),
  ];
  try {
    await main(args);
  } finally {
    for (const spy of spies) spy.mockRestore();
  }
  return { code: process.exitCode ?? EXIT.done, out, err };
}
