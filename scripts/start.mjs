// `npm start`: sets up, runs the demo build's main job, then serves the workbench (`npm start -- --no-serve` stops before).

import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { prepare, root } from './prepare.mjs';

prepare();
process.chdir(root);
const { main } = await import(pathToFileURL(join(root, 'dist/src/cli/main.js')).href);
await main(['demo', ...process.argv.slice(2)]);
