/** Starts the workbench's server for one build, on this computer only. */
import { randomBytes } from 'node:crypto';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { createAdaptorServer } from '@hono/node-server';
import { removeLeftIncoming } from '../build/incomingFiles.ts';
import { packageRoot } from '../build/packageRoot.ts';
import { createApp } from './app.ts';
import { ENGINES, type Engines } from './engines.ts';
import { watchRecordings } from './recordings.ts';
import { folderMark, watchBuild } from './watch.ts';
import { Workbench } from './workbench.ts';

export interface ServerOptions {
  /** 0 or absent: any free port. */
  port?: number;
  /** Folder of the built pages; default `dist/web` of the program. */
  webFolder?: string;
  engines?: Engines;
}

export interface RunningServer {
  /** "http://127.0.0.1:4321/" */
  url: string;
  port: number;
  /** Needed for writes; the served page carries it. */
  token: string;
  /** Stops jobs, ends streams and closes the port. */
  close(): Promise<void>;
}

/** The server could not be started; the message is one sentence. */
export class StartError extends Error {
  override name = 'StartError';
}

const LOOPBACK = '127.0.0.1';

export async function startServer(folder: string, options: ServerOptions = {}): Promise<RunningServer> {
  const token = randomBytes(24).toString('base64url');
  const workbench = new Workbench(folder, options.engines ?? ENGINES);
  let port = 0;
  const key = { token, port: () => port };
  const app = createApp(workbench, key, options.webFolder ?? join(packageRoot(), 'dist', 'web'));
  const server = createAdaptorServer({ fetch: app.fetch, createServer }) as Server;
  // A recording may take long to come in; a body that stops coming is given up sooner (body.ts).
  server.requestTimeout = 2 * 3600_000;
  server.headersTimeout = 10_000;
  await removeLeftIncoming(folder);
  port = await listening(server, options.port ?? 0);
  const watching = watchBuild(folder, await folderMark(folder), (revision) =>
    workbench.events.send({ event: 'changed', data: { revision } }),
  );
  const stopRecordings = watchRecordings(folder, workbench.events);
  workbench.lookForChanges = () => watching.look();
  return {
    url: `http://${LOOPBACK}:${port}/`,
    port,
    token,
    async close() {
      watching.close();
      stopRecordings();
      workbench.jobs.cancelAll();
      workbench.events.close();
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      server.closeAllConnections();
      await closed;
      await workbench.incoming.removeAll();
    },
  };
}

function listening(server: Server, port: number): Promise<number> {
  if (!Number.isInteger(port) || port < 0 || port > 65_535)
    return Promise.reject(new StartError(`${port} is no port: choose one from 1024 to 65535`));
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) =>
      reject(new StartError(startSentence(error, port))),
    );
    server.listen(port, LOOPBACK, () => resolve((server.address() as AddressInfo).port));
  });
}

function startSentence(error: NodeJS.ErrnoException, port: number): string {
  if (error.code === 'EADDRINUSE')
    return `port ${port} is in use by another program: choose another, or none to take a free one`;
  if (error.code === 'EACCES') return `port ${port} may not be used by this user: choose one above 1023`;
  return `the server could not be started (${error.code ?? error.message})`;
}
