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
  if (done.signal !== null) {
    process.stderr.write(`${what}: stopped; the next command goes on with it.\n`);
    process.exit(3);
  }
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

/** Whether `task` was not done yet for what its inputs are now. */
function isStale({ name, inputs, stillThere }) {
  const stamp = join(stamps, name);
  if (!existsSync(stamp) || !existsSync(join(root, stillThere))) return true;
  return readFileSync(stamp, 'utf8') !== hashOf(inputs);
}

function doTask({ name, inputs, work }) {
  const now = hashOf(inputs);
  work();
  mkdirSync(stamps, { recursive: true });
  writeFileSync(join(stamps, name), now);
}

const tasks = [
  {
    name: 'install',
    inputs: ['package.json', 'package-lock.json'],
    stillThere: 'node_modules/zod',
    work() {
      const npm = process.env.npm_execpath;
      const args = ['ci', '--include=dev', '--no-audit', '--no-fund'];
      if (npm) run('Installing', process.execPath, [npm, ...args]);
      else run('Installing', process.platform === 'win32' ? 'npm.cmd' : 'npm', args);
    },
  },
  {
    name: 'engines',
    inputs: ['src', 'demo/generator', 'bench', 'tsconfig.json', 'tsconfig.build.json'],
    stillThere: 'dist/src/cli/main.js',
    work() {
      // The compiler's memory of what it wrote would keep it from writing again what was deleted since.
      if (!existsSync(join(root, 'dist/src/cli/main.js')))
        rmSync(join(root, 'dist/.tsbuildinfo'), { force: true });
      const tsc = join(root, 'node_modules/typescript/bin/tsc');
      run('Compiling', process.execPath, [tsc, '-p', 'tsconfig.build.json']);
    },
  },
  {
    name: 'pages',
    inputs: ['web', 'src', 'vite.config.ts'],
    stillThere: 'dist/web/index.html',
    work() {
      const vite = join(root, 'node_modules/vite/bin/vite.js');
      run('Building the pages', process.execPath, [vite, 'build', '--logLevel', 'warn']);
    },
  },
];

/** Installs and builds whatever is missing or stale; a second call takes a fraction of a second. */
export function prepare({ force = false } = {}) {
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major < 20 || (major === 20 && minor < 19)) {
    process.stderr.write(`Bywright needs Node 20.19 or newer; this is ${process.version}.\n`);
    process.exit(2);
  }
  if (!force && !tasks.some(isStale)) return;
  const release = aloneHere();
  try {
    if (force) {
      rmSync(stamps, { recursive: true, force: true });
      rmSync(join(root, 'dist/.tsbuildinfo'), { force: true });
    }
    // Installing takes the stamps of the others away with node_modules, so that they are done anew.
    for (const task of tasks) if (isStale(task)) doTask(task);
  } finally {
    release();
  }
}

/** A process that takes longer than this to set up has ended without saying so. */
const LONGEST_MS = 15 * 60_000;

/** Waits until no other process sets up this folder; returns what lets the next one in. */
function aloneHere() {
  const lock = join(root, '.cache', 'setup');
  const release = () => rmSync(lock, { force: true });
  for (let waited = 0; ; waited++) {
    try {
      mkdirSync(dirname(lock), { recursive: true });
      writeFileSync(lock, String(process.pid), { flag: 'wx' });
      process.once('exit', release);
      return release;
    } catch (error) {
      if (error.code !== 'EEXIST') {
        process.stderr.write(`${root} cannot be set up: this user may not write there (${error.code}).\n`);
        process.exit(2);
      }
    }
    if (waited === 5) process.stderr.write('Waiting for another process that sets up …\n');
    if (isLeftOver(lock)) release();
    else Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 100);
  }
}

function isLeftOver(lock) {
  try {
    if (Date.now() - statSync(lock).mtimeMs > LONGEST_MS) return true;
    const pid = Number(readFileSync(lock, 'utf8'));
    // Just created and not yet filled.
    if (pid === 0) return false;
    process.kill(pid, 0);
    return false;
  } catch (error) {
    return error.code === 'ESRCH';
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) prepare({ force: process.argv.includes('--force') });
