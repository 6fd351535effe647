/** Puts a recording into the build: under another name first, then in place, so that it is there whole or not at all. */
import { mkdir, open, rename, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { pcapng } from '../../src/capture/formats/pcapng.ts';
import type { Capture } from '../../src/capture/store.ts';

/** True when `captures/<name>` was not there and is now; an existing one is left as it is. */
export async function writeMissing(
  folder: string,
  name: string,
  make: () => Capture,
): Promise<Capture | null> {
  const captures = join(folder, 'captures');
  const path = join(captures, name);
  if (await exists(path)) return null;
  await mkdir(captures, { recursive: true });
  const capture = make();
  const unfinished = `${path}.${process.pid}.tmp`;
  try {
    const file = await open(unfinished, 'w');
    try {
      for (const piece of pieces(capture)) await file.writeFile(piece);
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(unfinished, path);
  } catch (error) {
    await rm(unfinished, { force: true });
    throw error;
  }
  return capture;
}

function pieces(capture: Capture): Iterable<Uint8Array> {
  if (!pcapng.write) throw new Error('The pcapng format has no writer.');
  return pcapng.write(capture);
}

async function exists(path: string): Promise<boolean> {
  return stat(path).then(
    () => true,
    () => false,
  );
}
