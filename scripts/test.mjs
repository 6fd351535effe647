// `npm test`: sets up, then types, lint and all tests.
import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { prepare, root } from './prepare.mjs';

prepare();
const bin = (path) => join(root, 'node_modules', path);
const steps = [
  ['Types', bin('typescript/bin/tsc'), ['-p', 'tsconfig.json']],
  ['Lint and format', bin('@biomejs/biome/bin/biome'), ['check', '.', '--diagnostic-level=error']],
  ['Tests', bin('vitest/vitest.mjs'), ['run', ...process.argv.slice(2)]],
];
for (const [what, script, args] of steps) {
  process.stderr.write(`${what} …\n`);
  const done = spawnSync(process.execPath, [script, ...args], { cwd: root, stdio: 'inherit' });
  if (done.status !== 0) {
    process.stderr.write(`${what}: not passed.\n`);
    process.exit(done.status || 1);
  }
}
