/** Where a live stream comes from: standard input, or senders that connect to a loopback TCP or Unix socket. */
import { once } from 'node:events';
import { chmod, lstat, unlink } from 'node:fs/promises';
import { connect, createServer, type Server, type Socket } from 'node:net';
import type { Readable } from 'node:stream';
import { codeOf } from '../disk.ts';
import { ListenError } from './error.ts';

export type SourceAddress =
  | { kind: 'standard input' }
  | { kind: 'tcp'; host: string; port: number }
  | { kind: 'unix'; path: string };

/**
 * Reads `-`, `tcp:HOST:PORT` or `unix:PATH`.
 * @throws ListenError where it is none of these, or the host is not this computer
 */
export function parseSource(text: string): SourceAddress {
  if (text === '-') return { kind: 'standard input' };
  if (text.startsWith('unix:') && text.length > 5) return { kind: 'unix', path: text.slice(5) };
  const parts = /^tcp:(?:\[([^\]]+)\]|([^:]+)):(\d{1,5})$/.exec(text);
  const port = Number(parts?.[3]);
  if (parts === null || port > 65_535)
    throw new ListenError(
      `"${text}" is no source: right would be - (standard input), tcp:127.0.0.1:9000 or unix:PATH`,
    );
  const host = parts[1] ?? (parts[2] === 'localhost' ? '127.0.0.1' : (parts[2] as string));
  if (!/^127\.\d{1,3}\.\d{1,3}\.\d{1,3}$/.test(host) && host !== '::1')
    throw new ListenError(
      `${host} is not this computer alone: listen at 127.0.0.1 and bring other computers in over ssh (ssh -R ${port}:127.0.0.1:${port} …)`,
    );
  return { kind: 'tcp', host, port };
}

export interface SourceTells {
  /** The socket is open at this address; with port 0 a free one was taken. */
  waiting(where: string): void;
  /** A sender came while another was connected. */
  turnedAway(): void;
}

/**
 * The streams of a source, one after another: one of standard input; of a socket one for each sender, one at a time,
 * until `signal` fires.
 * @throws ListenError where the socket cannot be opened
 */
export async function* streamsOf(
  address: SourceAddress,
  input: Readable,
  signal: AbortSignal,
  tells: SourceTells,
): AsyncGenerator<Readable, void, undefined> {
  if (address.kind === 'standard input') {
    yield input;
    return;
  }
  const server = createServer();
  server.maxConnections = 1;
  server.on('drop', () => tells.turnedAway());
  const sockets: Socket[] = [];
  let wake = () => {};
  server.on('connection', (socket) => {
    // A sender that breaks off is the end of its stream, whatever the reason.
    socket.on('error', () => {});
    sockets.push(socket);
    wake();
  });
  const where = await opened(server, address);
  const stop = () => wake();
  signal.addEventListener('abort', stop);
  try {
    tells.waiting(where);
    while (!signal.aborted) {
      const socket = sockets.shift();
      if (socket === undefined) {
        await new Promise<void>((resolve) => {
          wake = resolve;
          if (sockets.length > 0 || signal.aborted) resolve();
        });
        continue;
      }
      yield socket;
      socket.destroy();
      if (!signal.aborted) tells.waiting(where);
    }
  } finally {
    signal.removeEventListener('abort', stop);
    for (const socket of sockets) socket.destroy();
    server.close();
  }
}

async function opened(
  server: Server,
  address: Exclude<SourceAddress, { kind: 'standard input' }>,
): Promise<string> {
  try {
    if (address.kind === 'tcp') {
      server.listen(address.port, address.host);
      await once(server, 'listening');
      const { port } = server.address() as { port: number };
      return `tcp:${address.host.includes(':') ? `[${address.host}]` : address.host}:${port}`;
    }
    await removeDeadSocket(address.path);
    server.listen(address.path);
    await once(server, 'listening');
    await chmod(address.path, 0o600);
    return `unix:${address.path}`;
  } catch (error) {
    server.close();
    const where = address.kind === 'tcp' ? `port ${address.port}` : address.path;
    const code = codeOf(error);
    if (code === 'EADDRINUSE') throw new ListenError(`${where} is in use by another program: choose another`);
    if (code === 'EACCES')
      throw new ListenError(
        `${where} may not be used by this user: choose ${address.kind === 'tcp' ? 'a port above 1023' : 'another path'}`,
      );
    if (code === 'ENOENT' || code === 'ENOTDIR') throw new ListenError(`${where}: its folder is not there`);
    throw new ListenError(`${where} could not be opened (${code})`);
  }
}

/** A killed listener leaves its socket behind: it goes where nobody answers at it. A file that is no socket stays. */
async function removeDeadSocket(path: string): Promise<void> {
  const found = await lstat(path).catch(() => null);
  if (!found?.isSocket()) return;
  const answers = await new Promise<boolean>((resolve) => {
    const probe = connect(path);
    probe.once('connect', () => {
      probe.destroy();
      resolve(true);
    });
    probe.once('error', () => resolve(false));
  });
  if (!answers) await unlink(path).catch(() => undefined);
}
