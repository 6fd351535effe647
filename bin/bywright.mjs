#!/usr/bin/env node
// The `bywright` command: sets up on first use, then hands over to the compiled program.
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { prepare, root } from '../scripts/prepare.mjs';

prepare();
const { main } = await import(pathToFileURL(join(root, 'dist/src/cli/main.js')).href);
await main(process.argv.slice(2));
