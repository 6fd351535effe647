// Brings a fresh clone to a state in which it runs: installs what package-lock.json names and compiles what changed.
// Plain JavaScript, because it runs before anything is installed. Used by `npm start`, `npm test` and bin/bywright.mjs.
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = dirname(dirname(fileURLToPath(import.meta.url)));
const stamps = join(root, 'node_modules', '.bywright');

/** Runs one set-up command; on failure prints what it said and ends with its exit code. */
function run(what, command, args) {
  process.stderr.write(`${what} …\n`);
  const done = spawnSync(command, args, { cwd: root, encoding: 'utf8', shell: false });
  if (done.status === 0) return;
  process.stderr.write(`${done.stdout ?? ''}${done.stderr ?? ''}`);
  process.stderr.write(`${what} failed${done.error ? `: ${done.error.message}` : ''}.\n`);
  process.exit(done.status || 1);
}

function hashOf(paths) {
  const hash = createHash('sha256');
  const visit = (path) => {
    if (!existsSync(path)) return;
    if (statSync(path).isDirectory()) {
      for (const name of readdirSync(path).sort()) visit(join(path, name));
    } else if (/\.(ts|tsx|mjs|json|html|css|c|h)$/.test(path)) {
      hash.update(path.slice(root.length)).update(readFileSync(path));
    }
  };
  for (const path of paths) visit(join(root, path));
  return hash.digest('hex');
}

/** Does `work` unless it was done for the same input before. */
function once(name, inputs, stillThere, work) {
  const stamp = join(stamps, name);
  const now = hashOf(inputs);
  if (existsSync(stamp) && readFileSync(stamp, 'utf8') === now && existsSync(join(root, stillThere))) return;
  work();
  mkdirSync(stamps, { recursive: true });
  writeFileSync(stamp, now);
}

/** Installs and builds whatever is missing or stale; a second call takes a fraction of a second. */
export function prepare({ force = false } = {}) {
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major < 20 || (major === 20 && minor < 19)) {
    process.stderr.write(`Bywright needs Node 20.19 or newer; this is ${process.version}.\n`);
    process.exit(2);
  }
  if (force) rmSync(stamps, { recursive: true, force: true });
  once('install', ['package.json', 'package-lock.json'], 'node_modules/zod', () => {
    const npm = process.env.npm_execpath;
    const args = ['ci', '--include=dev', '--no-audit', '--no-fund'];
    if (npm) run('Installing', process.execPath, [npm, ...args]);
    else run('Installing', process.platform === 'win32' ? 'npm.cmd' : 'npm', args);
  });
  once(
    'engines',
    ['src', 'demo/generator', 'bench', 'tsconfig.json', 'tsconfig.build.json'],
    'dist/src/cli/main.js',
    () =>
      run('Compiling', process.execPath, [
        join(root, 'node_modules/typescript/bin/tsc'),
        '-p',
        'tsconfig.build.json',
      ]),
  );
  once('pages', ['web', 'src', 'vite.config.ts'], 'dist/web/index.html', () =>
    run('Building the pages', process.execPath, [
      join(root, 'node_modules/vite/bin/vite.js'),
      'build',
      '--logLevel',
      'warn',
    ]),
  );
}

if (process.argv[1] === fileURLToPath(import.meta.url)) prepare({ force: process.argv.includes('--force') });
