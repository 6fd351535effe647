/**
 * What the Messages sheet waits for on the demo's recordings: findings worked out for the first time, and the same at the next
 * start of the server; accepted entries held against all recordings for the first time, and again. Ratios within one run.
 */
import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { packageRoot } from '../src/build/packageRoot.ts';
import { startServer } from '../src/server/index.ts';

const root = mkdtempSync(join(tmpdir(), 'bywright-kept-'));
const build = join(root, 'demo');
cpSync(join(packageRoot(), 'demo'), build, {
  recursive: true,
  filter: (path) => !/\.cache|generator|\/out(\/|$)/.test(path),
});

const QUESTIONS = {
  'findings of bench-1': '/api/captures/bench-1.pcapng/findings',
  'entries held against all recordings': '/api/retest',
};

try {
  const first = await timed();
  const second = await timed();
  for (const name of Object.keys(QUESTIONS)) {
    const [a, b] = [first.get(name), second.get(name)];
    if (!a || !b) continue;
    console.log(
      `${name}: ${Math.round(a.ms)} ms, at the next start ${Math.round(b.ms)} ms (${(a.ms / b.ms).toFixed(0)} times sooner); reply ${Math.round(b.bytes / 1024)} KiB`,
    );
  }
} finally {
  rmSync(root, { recursive: true, force: true });
}

async function timed(): Promise<Map<string, { ms: number; bytes: number }>> {
  const server = await startServer(build);
  const result = new Map<string, { ms: number; bytes: number }>();
  for (const [name, path] of Object.entries(QUESTIONS)) {
    const began = performance.now();
    let reply = await fetch(new URL(path, server.url));
    while (reply.status === 202) {
      await reply.arrayBuffer();
      await new Promise((resolve) => setTimeout(resolve, 10));
      reply = await fetch(new URL(path, server.url));
    }
    const { byteLength } = await reply.arrayBuffer();
    result.set(name, { ms: performance.now() - began, bytes: byteLength });
  }
  await server.close();
  return result;
}
