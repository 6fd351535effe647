/** A server on a temporary build, with a small invented capture, and requests as other programs could send them. */

import { request } from 'node:http';
import { onTestFinished } from 'vitest';
import { ENGINES, type Engines } from '../../src/server/engines.ts';
import { type RunningServer, startServer } from '../../src/server/index.ts';
import { folderWith, wagtail } from '../build/folder.ts';

export interface Reply {
  status: number;
  headers: Record<string, string | string[] | undefined>;
  text: string;
  // biome-ignore lint/suspicious/noExplicitAny: tests look at replies field by field.
  json: any;
}

export interface Served extends RunningServer {
  folder: string;
  /** Sends exactly this path and these headers; `host` and `token` are right unless given. */
  ask(
    path: string,
    options?: { method?: string; headers?: Record<string, string>; body?: string },
  ): Promise<Reply>;
  get(path: string): Promise<Reply>;
  post(path: string, body: unknown): Promise<Reply>;
}

export async function served(
  files: Record<string, string | Uint8Array> = {},
  engines: Partial<Engines> = {},
): Promise<Served> {
  const folder = folderWith({ ...wagtail(), 'captures/drive.csv': driveCsv(), ...files });
  const webFolder = folderWith({
    'index.html':
      '<!doctype html><html><head><meta name="bywright-token" content="" /></head><body>pages</body></html>',
    'assets/main-1234.js': 'console.log(1)',
    'secret.env': 'no type of ours',
  });
  const server = await startServer(folder, { webFolder, engines: { ...ENGINES, ...engines } });
  onTestFinished(() => server.close());
  const ask: Served['ask'] = (path, { method = 'GET', headers = {}, body } = {}) =>
    new Promise((resolve, reject) => {
      const sent = request(
        {
          host: '127.0.0.1',
          port: server.port,
          path,
          method,
          headers: { host: `127.0.0.1:${server.port}`, ...headers },
        },
        (reply) => {
          const parts: Buffer[] = [];
          reply.on('data', (part: Buffer) => parts.push(part));
          reply.on('end', () => {
            const text = Buffer.concat(parts).toString();
            let json: unknown = null;
            try {
              json = JSON.parse(text);
            } catch {
              // Not every reply is JSON.
            }
            resolve({ status: reply.statusCode ?? 0, headers: reply.headers, text, json });
          });
          reply.on('error', reject);
        },
      );
      sent.on('error', reject);
      sent.end(body);
    });
  const post: Served['post'] = (path, body) =>
    ask(path, {
      method: 'POST',
      headers: { 'content-type': 'application/json', 'x-bywright-token': server.token },
      body: JSON.stringify(body),
    });
  return { ...server, folder, ask, get: (path) => ask(path), post };
}

/** Forty seconds of two invented messages: 0C4 every 20 ms with a speed that rises and a counter, 0E5 every 10 ms on bus 1. */
export function driveCsv(): string {
  const lines = ['time,bus,id,ext,data'];
  for (let k = 0; k < 4000; k++) {
    const t = k * 0.01;
    const angle = Math.round(3000 * Math.sin(t / 3)) & 0xffff;
    lines.push(`${t.toFixed(6)},1,0E5,0,${hex(angle & 255, angle >> 8, 0, 0, 0, 0, k & 15, 0)}`);
    if (k % 2 === 0) {
      const speed = Math.round(2500 + 2400 * Math.sin(t / 7));
      lines.push(
        `${(t + 0.001).toFixed(6)},0,0C4,0,${hex(speed >> 8, speed & 255, 0, 0, 0, 0, (k >> 1) & 15, 0)}`,
      );
    }
  }
  return `${lines.join('\n')}\n`;
}

function hex(...bytes: number[]): string {
  return bytes.map((b) => b.toString(16).toUpperCase().padStart(2, '0')).join('');
}

/** Events of the server's stream, gathered until `until` says that it is enough. */
export function events(
  { port }: Served,
  until: (seen: { event: string; data: Record<string, unknown> }[]) => boolean,
): Promise<{ event: string; data: Record<string, unknown> }[]> {
  return new Promise((resolve, reject) => {
    const seen: { event: string; data: Record<string, unknown> }[] = [];
    const sent = request({ host: '127.0.0.1', port, path: '/api/events' }, (reply) => {
      let text = '';
      reply.on('data', (part: Buffer) => {
        text += part.toString();
        for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
          const lines = /^event: (\w+)\ndata: (.*)$/.exec(text.slice(0, end));
          if (lines) seen.push({ event: lines[1] as string, data: JSON.parse(lines[2] as string) });
          text = text.slice(end + 2);
        }
        if (!until(seen)) return;
        sent.destroy();
        resolve(seen);
      });
    });
    sent.on('error', (error) => (until(seen) ? resolve(seen) : reject(error)));
    sent.end();
  });
}

/** Asks until the answer is there and not the job that works it out. */
export async function settled({ get }: Served, path: string): Promise<Reply> {
  for (let i = 0; i < 600; i++) {
    const reply = await get(path);
    if (reply.status !== 202) return reply;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  throw new Error(`${path} is still being worked out`);
}
