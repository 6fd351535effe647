/**
 * Who is let in. The server listens on loopback only; what is left to fear is a page of another site in the same browser
 * (forged requests, names that are made to point here), and another program that guesses addresses.
 */
import { createHash, timingSafeEqual } from 'node:crypto';
import type { MiddlewareHandler } from 'hono';
import { TOKEN_HEADER } from './api.ts';
import { bodyPieces } from './body.ts';
import { Refusal } from './refusal.ts';

/** Where a recording is sent to: the one write whose body is no JSON and may be large (incoming.ts holds its limit). */
export const RECORDING_PATH = '/api/incoming';

/** Largest body of a request, bytes; the largest honest one is an acceptance with a long note. */
export const MAX_BODY_BYTES = 64 * 1024;

export interface DoorKey {
  /** Needed for every write. */
  token: string;
  /** Port that the server listens on; known once it listens. */
  port: () => number;
}

/** Refuses requests under a foreign name or from a foreign page, and writes without the token. */
export function door(key: DoorKey): MiddlewareHandler {
  return async (c, next) => {
    const own = [`127.0.0.1:${key.port()}`, `localhost:${key.port()}`];
    const host = c.req.header('host') ?? '';
    if (!own.includes(host.toLowerCase()))
      throw new Refusal(403, `this server answers only under ${own[0]}, not under "${shown(host)}"`);
    const origin = c.req.header('origin');
    if (origin !== undefined && !own.includes(origin.toLowerCase().replace(/^http:\/\//, '')))
      throw new Refusal(403, `a page of ${shown(origin)} may not ask this server`);
    const site = c.req.header('sec-fetch-site');
    const isPage = !c.req.path.startsWith('/api/');
    if (site !== undefined && !['same-origin', 'none'].includes(site) && !isPage)
      throw new Refusal(403, 'a page of another site may not ask this server');
    if (!['GET', 'HEAD'].includes(c.req.method))
      checkWrite(c.req.method, c.req.path, (name) => c.req.header(name), key);
    await next();
  };
}

function checkWrite(
  method: string,
  path: string,
  header: (name: string) => string | undefined,
  key: DoorKey,
): void {
  if (method !== 'POST') throw new Refusal(405, `${shown(method)} is not used here; only GET and POST`);
  if (!sameText(header(TOKEN_HEADER) ?? '', key.token))
    throw new Refusal(403, 'this change needs the token of a page served by this server; reload the page');
  const type = (header('content-type') ?? '').split(';')[0]!.trim().toLowerCase();
  // Neither type can be sent by a form of another site.
  const wanted = path === RECORDING_PATH ? 'application/octet-stream' : 'application/json';
  if (type !== wanted) throw new Refusal(415, `the body has to be ${wanted}`);
  if (path === RECORDING_PATH) return;
  const length = Number(header('content-length') ?? 0);
  if (length > MAX_BODY_BYTES) throw tooLarge();
}

/** Body of a write as plain data; refuses one that is too large or no JSON object. */
export async function jsonBody(request: Request): Promise<Record<string, unknown>> {
  const parts: Uint8Array[] = [];
  let size = 0;
  // Counted while it comes in: the announced length may be missing or a lie.
  for await (const part of bodyPieces(request.body)) {
    size += part.length;
    if (size > MAX_BODY_BYTES) throw tooLarge();
    parts.push(part);
  }
  let data: unknown;
  try {
    data = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(Buffer.concat(parts)));
  } catch {
    throw new Refusal(400, 'the body is no JSON');
  }
  if (data === null || typeof data !== 'object' || Array.isArray(data))
    throw new Refusal(400, 'the body has to be a JSON object');
  return data as Record<string, unknown>;
}

/** Headers of every reply: nothing from elsewhere is loaded, nothing inline is run, nobody else may frame it. */
export const security: MiddlewareHandler = async (c, next) => {
  await next();
  const headers: Record<string, string> = {
    'content-security-policy': PAGE_POLICY,
    'x-frame-options': 'DENY',
    'x-content-type-options': 'nosniff',
    'referrer-policy': 'no-referrer',
    'cross-origin-opener-policy': 'same-origin',
    'cross-origin-resource-policy': 'same-origin',
    'permissions-policy': 'camera=(), microphone=(), geolocation=(), usb=(), serial=()',
    'cache-control': 'no-store',
  };
  for (const [name, value] of Object.entries(headers))
    if (!c.res.headers.has(name)) c.res.headers.set(name, value);
};

const PAGE_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data:",
  "font-src 'self'",
  "connect-src 'self'",
  "frame-src 'self'",
  "base-uri 'none'",
  "form-action 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** The dossier carries its style in itself, has no script, and is shown in a frame of the pages. */
export const DOSSIER_HEADERS: Record<string, string> = {
  'content-security-policy':
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'",
  'x-frame-options': 'SAMEORIGIN',
};

function tooLarge(): Refusal {
  return new Refusal(413, `the body is larger than ${MAX_BODY_BYTES / 1024} KB`);
}

function sameText(a: string, b: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(a), digest(b));
}

/** What came from outside, short and without control characters. */
function shown(text: string): string {
  return text.replace(/[^\x20-\x7e]/g, '?').slice(0, 80);
}
