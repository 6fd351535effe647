/** Paths from requests: only names of files that a folder lists, and never through a link out of it. */
import { realpath, stat } from 'node:fs/promises';
import { join, sep } from 'node:path';
import { listFolder } from '../build/disk.ts';
import { Refusal } from './refusal.ts';

export interface FoundFile {
  /** Real path. */
  path: string;
  bytes: number;
  changed: Date;
}

/**
 * The file `name` directly in `folder` of the build. The name is compared with those that are there, so that no spelling
 * of a path leads anywhere. Throws `Refusal` 404, or 403 for a link that leads out of the build.
 */
export async function fileIn(build: string, folder: string, name: string): Promise<FoundFile> {
  const { names } = await listFolder(build, folder);
  if (!names.includes(name)) throw new Refusal(404, `there is no file of this name in ${folder}/`);
  try {
    const root = await realpath(build);
    const path = await realpath(join(build, folder, name));
    if (!path.startsWith(root + sep))
      throw new Refusal(
        403,
        `${folder}/${name} is a link that leads out of the build; put the file itself there`,
      );
    const found = await stat(path);
    if (!found.isFile()) throw new Refusal(404, `${folder}/${name} is no file`);
    return { path, bytes: found.size, changed: found.mtime };
  } catch (error) {
    if (error instanceof Refusal) throw error;
    throw new Refusal(404, `${folder}/${name} cannot be read`);
  }
}
