import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageRoot } from './packageRoot.ts';

/** Version of the tool, from package.json. */
export function toolVersion(): string {
  const { version } = JSON.parse(readFileSync(join(packageRoot(), 'package.json'), 'utf8')) as {
    version: string;
  };
  return version;
}
