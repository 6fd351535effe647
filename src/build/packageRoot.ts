import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Folder that holds package.json: the same from sources and from compiled files. */
export function packageRoot(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, 'package.json'))) {
    const parent = dirname(folder);
    if (parent === folder)
      throw new Error('package.json not found above the program: the installation is incomplete');
    folder = parent;
  }
  return folder;
}
