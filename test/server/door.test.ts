import { symlinkSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { startServer } from '../../src/server/index.ts';
import { folderWith, wagtail } from '../build/folder.ts';
import { served } from './serve.ts';

test('the server listens on loopback only', async () => {
  const { port } = await served();
  const outside = Object.values(networkInterfaces())
    .flat()
    .find((address) => address?.family === 'IPv4' && !address.internal);
  const reached = (host: string) =>
    new Promise<boolean>((resolve) => {
      const socket = connect({ host, port, timeout: 2000 });
      const end = (answer: boolean) => {
        socket.destroy();
        resolve(answer);
      };
      socket.on('connect', () => end(true));
      socket.on('error', () => end(false));
      socket.on('timeout', () => end(false));
    });
  expect(await reached('127.0.0.1')).toBe(true);
  if (outside) expect(await reached(outside.address)).toBe(false);
});

describe('requests under a foreign name or from a foreign page are refused', () => {
  const cases: [string, Record<string, string>][] = [
    ['a name that was made to point here', { host: 'rebound.example:80' }],
    ['our name on another port', { host: '127.0.0.1:1' }],
    ['a page of another site', { origin: 'http://elsewhere.example' }],
    ['a page without an origin of its own', { origin: 'null' }],
    ['a page of another program on this computer', { origin: 'http://localhost:1' }],
    ['an image or script of another site', { 'sec-fetch-site': 'cross-site' }],
    ['a page of another port of this computer', { 'sec-fetch-site': 'same-site' }],
  ];
  for (const [name, headers] of cases) {
    test(name, async () => {
      const { ask } = await served();
      const reply = await ask('/api/build', { headers });
      expect(reply.status).toBe(403);
      expect(Object.keys(reply.json)).toEqual(['error']);
      expect(reply.text).not.toContain('Wagtail');
    });
  }

  test('while the own page is answered under either of our names', async () => {
    const { ask, port } = await served();
    const own = {
      host: `localhost:${port}`,
      origin: `http://localhost:${port}`,
      'sec-fetch-site': 'same-origin',
    };
    expect((await ask('/api/build', { headers: own })).status).toBe(200);
  });
});

describe('a write needs the token, the right type and a small body', () => {
  const good = { 'content-type': 'application/json' };
  test('no token', async () => {
    const { ask } = await served();
    const reply = await ask('/api/prove', { method: 'POST', headers: good, body: '{}' });
    expect([reply.status, reply.json.error]).toEqual([
      403,
      'this change needs the token of a page served by this server; reload the page',
    ]);
  });
  test('a wrong token', async () => {
    const { ask, token } = await served();
    const wrong = `${token.slice(0, -1)}${token.endsWith('A') ? 'B' : 'A'}`;
    const headers = { ...good, 'x-bywright-token': wrong };
    expect((await ask('/api/prove', { method: 'POST', headers, body: '{}' })).status).toBe(403);
  });
  test('a form of another page cannot send the right type', async () => {
    const { ask, token } = await served();
    const headers = { 'content-type': 'text/plain', 'x-bywright-token': token };
    expect((await ask('/api/prove', { method: 'POST', headers, body: '{}' })).status).toBe(415);
  });
  test('a body that is too large, announced or not', async () => {
    const { ask, token } = await served();
    const large = `{"a":"${'x'.repeat(70_000)}"}`;
    const headers = { ...good, 'x-bywright-token': token };
    const chunked = { ...headers, 'transfer-encoding': 'chunked' };
    expect((await ask('/api/prove', { method: 'POST', headers, body: large })).status).toBe(413);
    expect((await ask('/api/prove', { method: 'POST', headers: chunked, body: large })).status).toBe(413);
  });
  test('no JSON, and JSON that is no object', async () => {
    const { ask, token } = await served();
    const headers = { ...good, 'x-bywright-token': token };
    for (const body of ['', '{', '[]', '1', 'null', '{"a":\u0000}'])
      expect((await ask('/api/prove', { method: 'POST', headers, body })).status).toBe(400);
  });
  test('other methods', async () => {
    const { ask, token } = await served();
    for (const method of ['PUT', 'DELETE', 'PATCH', 'OPTIONS'])
      expect((await ask('/api/prove', { method, headers: { 'x-bywright-token': token } })).status).toBe(405);
  });
});

describe('no path leads out of the build or the pages', () => {
  test('tricks with dots, slashes, zero bytes and double encoding find nothing', async () => {
    const { get } = await served({ 'evidence/x.json': '{}' });
    const tricks = [
      '../build.yaml',
      '..%2fbuild.yaml',
      '%2e%2e%2fbuild.yaml',
      '..%5cbuild.yaml',
      '..%252fbuild.yaml',
      '%2fetc%2fpasswd',
      'drive.csv%00.json',
      '.%2fdrive.csv',
      'drive.csv%2f..%2fdrive.csv',
      '%c0%ae%c0%ae%2fbuild.yaml',
    ];
    for (const trick of tricks) {
      for (const path of [
        `/api/captures/${trick}`,
        `/api/evidence/${trick}`,
        `/${trick}`,
        `/assets/${trick}`,
      ]) {
        const reply = await get(path);
        expect(`${path} ${reply.status}`).toMatch(/ 40\d$/);
        expect(reply.text).not.toMatch(/Wagtail|root:/);
      }
    }
    expect((await get('/secret.env')).status).toBe(404);
  });

  test('a link that leads out is not followed; one that stays inside is', async () => {
    const { get, folder } = await served();
    const outside = folderWith({ 'other.csv': 'time,bus,id,ext,data\n0,0,123,0,00\n' });
    symlinkSync(join(outside, 'other.csv'), join(folder, 'captures/out.csv'));
    symlinkSync('drive.csv', join(folder, 'captures/in.csv'));
    const reply = await get('/api/captures/out.csv');
    expect(reply.status).toBe(403);
    expect(reply.json.error).toContain('leads out of the build');
    expect((await get('/api/captures/in.csv')).status).toBe(200);
  });
});

test('every reply forbids foreign content, frames and guessing of types, and the page has the token', async () => {
  const { get, token } = await served();
  for (const path of ['/', '/api/build', '/api/nothing', '/assets/main-1234.js']) {
    const { headers } = await get(path);
    expect(headers['content-security-policy']).toMatch(/default-src 'none'.*script-src 'self'/);
    expect(headers['content-security-policy']).not.toContain('unsafe-inline');
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(headers['x-frame-options']).toBe('DENY');
    expect(headers['referrer-policy']).toBe('no-referrer');
    expect(headers['access-control-allow-origin']).toBeUndefined();
  }
  expect((await get('/')).text).toContain(`<meta name="bywright-token" content="${token}" />`);
  expect((await get('/')).headers['cache-control']).toBe('no-store');
  expect((await get('/assets/main-1234.js')).headers['content-type']).toBe('text/javascript; charset=utf-8');
});

test('an error is one sentence without a stack or a path of the program', async () => {
  const { get } = await served(
    {},
    {
      findings: async () => {
        throw new TypeError('x is not a function\n    at /home/someone/secret.ts');
      },
    },
  );
  await get('/api/captures/drive.csv/findings');
  await new Promise((resolve) => setTimeout(resolve, 300));
  const reply = await get('/api/captures/drive.csv/findings');
  expect(reply.status).toBe(422);
  expect(reply.json.error).toBe(
    'a mistake in the program itself (x is not a function); please report it with what you did',
  );
  expect((await get('/api/nothing')).json).toEqual({
    error: 'there is nothing to ask under GET /api/nothing',
  });
});

test('a port that is taken is told in a sentence; without a wish any free one is used', async () => {
  const folder = folderWith(wagtail());
  writeFileSync(join(folder, 'note.txt'), '');
  const first = await startServer(folder);
  try {
    await expect(startServer(folder, { port: first.port })).rejects.toThrow(
      `port ${first.port} is in use by another program: choose another, or none to take a free one`,
    );
    await expect(startServer(folder, { port: 70_000 })).rejects.toThrow('70000 is no port');
  } finally {
    await first.close();
  }
});
