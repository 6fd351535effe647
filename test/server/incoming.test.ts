import { existsSync, readdirSync, readFileSync, utimesSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { readCaptureFile, writeCaptureFile } from '../../src/build/captureFile.ts';
import { incomingPath, removeLeftIncoming } from '../../src/build/incomingFiles.ts';
import type { IncomingReading } from '../../src/server/api.ts';
import { bodyPieces } from '../../src/server/body.ts';
import { startServer } from '../../src/server/index.ts';
import { folderWith, wagtail } from '../build/folder.ts';
import { driveCsv, type Served, served, settled } from './serve.ts';

/** Sends a recording as a page does; what comes back, and the id. */
async function send(server: Served, name: string, body: Uint8Array | string, headers = {}) {
  return server.ask(`/api/incoming?name=${encodeURIComponent(name)}`, {
    method: 'POST',
    headers: {
      'content-type': 'application/octet-stream',
      'x-bywright-token': server.token,
      'content-length': String(Buffer.byteLength(body)),
      ...headers,
    },
    body: body as string,
  });
}

async function sent(server: Served, name: string, body: Uint8Array | string) {
  const reply = await send(server, name, body);
  expect(reply.status, reply.text).toBe(201);
  const path = `/api/incoming/${reply.json.id}`;
  const read = async (columns = ''): Promise<IncomingReading> => {
    const query = columns && `?columns=${encodeURIComponent(columns)}`;
    return (await settled(server, `${path}${query}`)).json;
  };
  return { path, read };
}

const hidden = (folder: string) =>
  readdirSync(join(folder, 'captures')).filter((name) => name.startsWith('.'));

async function pcapng(): Promise<Uint8Array> {
  const folder = folderWith({ 'a.csv': driveCsv() });
  await writeCaptureFile(join(folder, 'a.pcapng'), (await readCaptureFile(join(folder, 'a.csv'))).capture);
  return readFileSync(join(folder, 'a.pcapng'));
}

describe('a recording sent by a page', () => {
  test('that describes itself is kept byte for byte under its name, and nothing hidden stays', async () => {
    const server = await served();
    const bytes = await pcapng();
    const { path, read } = await sent(server, 'stand.pcapng', bytes);
    const reading = await read();
    expect(reading.read).toMatchObject({ format: 'pcapng', frames: 6000, notes: [] });
    expect(reading.read?.seconds).toBeCloseTo(39.99, 2);
    expect(reading.read?.buses).toEqual([
      { bus: 0, name: 'chassis', frames: 2000, messages: 1, ids: ['0C4'] },
      { bus: 1, name: 'control', frames: 4000, messages: 1, ids: ['0E5'] },
    ]);
    expect(reading.keep).toEqual({
      name: 'stand.pcapng',
      free: 'stand.pcapng',
      form: 'asItIs',
      sameAs: null,
    });
    expect(reading.text).toBeNull();
    const accepted = await server.post(`${path}/accept`, { name: 'stand.pcapng' });
    expect([accepted.status, accepted.json]).toEqual([201, { name: 'stand.pcapng' }]);
    expect(readFileSync(join(server.folder, 'captures', 'stand.pcapng'))).toEqual(Buffer.from(bytes));
    expect(hidden(server.folder)).toEqual([]);
    expect((await server.get(path)).status).toBe(404);
    expect((await server.get('/api/build')).json.captures.map((c: { name: string }) => c.name)).toContain(
      'stand.pcapng',
    );
  });

  test('that is text shows its columns and lines, is read again by columns of the person, and is kept as pcapng', async () => {
    const server = await served();
    const text =
      'when;what;carried\n0.01;100;00 11 22\n0.02;101;00 11 22\n0.03;200;00 11 23\n0.04;100;00 11 24\n';
    const { path, read } = await sent(server, 'typed.txt', text);
    const first = await read();
    expect(first.text?.named).toBeNull();
    expect(first.text?.lines[0]).toEqual({
      line: 1,
      text: 'when;what;carried',
      inferred: { none: 'no frame: no readable time' },
      named: null,
    });
    const inferred = first.text?.inferred as { columns: string; fits: number; confidence: number };
    expect(inferred.fits).toBe(4);
    expect(inferred.confidence).toBeGreaterThan(0);
    const named = await read('time:ms,id:dec,data');
    expect(named.text?.named).toMatchObject({ columns: 'time:ms,id:dec,data', fits: 4, confidence: null });
    expect(named.text?.lines[1]?.named).toEqual({
      time: '0.000010',
      bus: 0,
      id: '064',
      length: 3,
      data: '00 11 22',
      kind: '',
    });
    expect(named.read?.buses[0]?.ids).toEqual(['064', '065', '0C8']);
    expect(named.keep).toMatchObject({ name: 'typed.pcapng', form: 'pcapng' });
    await server.post(`${path}/accept`, { name: 'typed.pcapng', columns: 'time:ms,id:dec,data' });
    const kept = await readCaptureFile(join(server.folder, 'captures', 'typed.pcapng'));
    expect([...kept.capture.id]).toEqual([100, 101, 200, 100]);
    expect(hidden(server.folder)).toEqual([]);
  });

  test('is deleted when it is refused, also while it is read', async () => {
    const server = await served();
    const { path, read } = await sent(server, 'drive.csv', driveCsv());
    await read();
    expect(hidden(server.folder)).toHaveLength(2);
    const refused = await server.post(`${path}/refuse`, {});
    expect([refused.status, refused.json.waiting]).toEqual([200, []]);
    expect(hidden(server.folder)).toEqual([]);
    const again = await sent(server, 'drive.csv', driveCsv().repeat(20));
    expect((await server.get(again.path)).status).toBe(202);
    await server.post(`${again.path}/refuse`, {});
    await expect.poll(() => hidden(server.folder)).toEqual([]);
    expect((await server.get('/api/build')).json.captures).toHaveLength(1);
  });

  test('never takes the name of another, and says where the same content already is', async () => {
    const bytes = await pcapng();
    const server = await served({ 'captures/stand.pcapng': bytes, 'captures/other.pcapng': 'x' });
    const { path, read } = await sent(server, 'stand.pcapng', bytes);
    expect((await read()).keep).toEqual({
      name: 'stand.pcapng',
      free: 'stand-2.pcapng',
      form: 'asItIs',
      sameAs: 'stand.pcapng',
    });
    const taken = await server.post(`${path}/accept`, { name: 'other.pcapng' });
    expect([taken.status, taken.json.error]).toEqual([
      409,
      'captures/other.pcapng is there already and is not overwritten: choose another name, for example other-2.pcapng',
    ]);
    expect(readFileSync(join(server.folder, 'captures/other.pcapng'), 'utf8')).toBe('x');
    for (const name of ['../out.pcapng', '.hidden', 'a/b', 'README.md', 'x.tmp', '', 'a\0b'])
      expect((await server.post(`${path}/accept`, { name })).status, name).toBe(400);
    expect((await server.post(`${path}/accept`, { name: 'stand-2.pcapng' })).status).toBe(201);
    expect(existsSync(join(server.folder, '..', 'out.pcapng'))).toBe(false);
  });

  test.each<[string, string, Uint8Array | string, RegExp]>([
    [
      'half a gzip keeps what was before the cut',
      'half.csv.gz',
      cut(gzipSync(driveCsv())),
      /^The gzip data ends too early/,
    ],
    ['a cut pcapng', 'cut.pcapng', new Uint8Array(0), /cut short|ends in the middle|ends/i],
  ])('%s, and says so', async (_, name, bytes, note) => {
    const server = await served();
    const { read } = await sent(server, name, bytes.length > 0 ? bytes : cut(await pcapng()));
    const reading = await read();
    expect(reading.error).toBeNull();
    expect(reading.read?.frames).toBeGreaterThan(1000);
    expect(reading.read?.frames).toBeLessThan(6000);
    expect(reading.read?.notes.join(' ')).toMatch(note);
  });

  test('that is none is told in one sentence without the hidden name, and can only be refused', async () => {
    const server = await served();
    for (const [name, bytes, words] of [
      [
        'picture.png',
        Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0),
        /no recording that can be read/,
      ],
      ['letter.txt', 'Dear reader,\nthis is a letter.\n', /not a recording of frames/],
      ['stub.gz', gzipSync(driveCsv()).subarray(0, 12), /gzip/],
    ] as const) {
      const { path, read } = await sent(server, name, bytes);
      const reading = await read();
      expect([reading.read, reading.keep], name).toEqual([null, null]);
      expect(reading.error).toMatch(words);
      expect(reading.error?.startsWith(`${name}: `), reading.error ?? '').toBe(true);
      expect((await server.post(`${path}/accept`, { name })).status).toBe(409);
      await server.post(`${path}/refuse`, {});
    }
    const empty = await send(server, 'empty.csv', '');
    expect([empty.status, empty.json.error]).toEqual([422, 'empty.csv is empty: 0 bytes; nothing was kept']);
    expect(hidden(server.folder)).toEqual([]);
  });
});

describe('the door to it', () => {
  test('is that of every other write: token, origin, host and type', async () => {
    const server = await served();
    for (const [headers, status] of [
      [{ 'x-bywright-token': 'wrong' }, 403],
      [{ origin: 'http://elsewhere.example' }, 403],
      [{ host: 'rebound.example' }, 403],
      [{ 'content-type': 'text/plain' }, 415],
      [{ 'content-type': 'multipart/form-data; boundary=x' }, 415],
    ] as const)
      expect((await send(server, 'a.csv', 'x', headers)).status).toBe(status);
    expect((await server.post('/api/incoming?name=a.csv', {})).status).toBe(415);
    expect((await send(server, '../a.csv', 'x')).status).toBe(400);
    expect(hidden(server.folder)).toEqual([]);
  });

  test('refuses what is announced as too large before a byte of it comes', async () => {
    const server = await served();
    const reply = await new Promise<{ status: number; text: string }>((resolve, reject) => {
      const asked = request(
        {
          host: '127.0.0.1',
          port: server.port,
          path: '/api/incoming?name=a.pcap',
          method: 'POST',
          headers: {
            'content-type': 'application/octet-stream',
            'x-bywright-token': server.token,
            'content-length': String(2 ** 31 + 1),
          },
        },
        (answer) => {
          let text = '';
          answer.on('data', (part) => {
            text += part;
          });
          answer.on('end', () => resolve({ status: answer.statusCode ?? 0, text }));
        },
      );
      asked.on('error', reject);
      asked.flushHeaders();
    });
    expect([reply.status, JSON.parse(reply.text).error]).toEqual([
      413,
      'the recording is larger than 2 GiB: cut it into shorter ones, or copy it into captures/ by hand',
    ]);
  });

  test('leaves nothing of a recording whose sender goes away', async () => {
    const server = await served();
    await new Promise<void>((resolve) => {
      const asked = request({
        host: '127.0.0.1',
        port: server.port,
        path: '/api/incoming?name=a.csv',
        method: 'POST',
        headers: {
          'content-type': 'application/octet-stream',
          'x-bywright-token': server.token,
          'content-length': '1000000',
        },
      });
      asked.on('error', () => resolve());
      asked.write('t,bus,id,ext,data\n');
      const look = setInterval(() => {
        if (hidden(server.folder).length === 0) return;
        clearInterval(look);
        asked.destroy();
        resolve();
      }, 10);
    });
    await expect.poll(() => hidden(server.folder)).toEqual([]);
    expect((await server.get('/api/incoming')).json.waiting).toEqual([]);
  });

  test('gives up a body that stops coming', async () => {
    const quiet = new ReadableStream<Uint8Array>({ start: (c) => c.enqueue(Uint8Array.of(1)) });
    const take = async () => {
      for await (const piece of bodyPieces(quiet, 30)) expect(piece.length).toBe(1);
    };
    await expect(take()).rejects.toThrow(/nothing came for/);
  });

  test('takes no ninth while eight wait', async () => {
    const server = await served();
    for (let k = 0; k < 8; k++) expect((await send(server, 'a.csv', driveCsv())).status).toBe(201);
    expect((await send(server, 'a.csv', driveCsv())).status).toBe(409);
    expect((await server.get('/api/incoming')).json.waiting).toHaveLength(8);
    await server.close();
    expect(hidden(server.folder)).toEqual([]);
  });
});

test('what an ended process left is removed at the start, what belongs to another computer or a living process is not', async () => {
  const folder = folderWith({ ...wagtail(), 'captures/drive.csv': driveCsv() });
  const at = (name: string) => join(folder, 'captures', name);
  const host = hostname().replace(/[^\w-]/g, '_');
  const left = [
    `.incoming.${host}.999999999.0123abcd.tmp`,
    `..incoming.${host}.999999999.0123abcd.tmp.89abcdef.tmp`,
  ];
  // The number of this process, but from before it was started.
  const before = `.incoming.${host}.${process.pid}.0123abcd.tmp`;
  const others = [`.incoming.elsewhere.999999999.0123abcd.tmp`, '.hidden', 'drive.csv'];
  for (const name of [...left, before, ...others.slice(0, 2)]) writeFileSync(at(name), 'x');
  utimesSync(at(before), 1e9, 1e9);
  const mine = incomingPath(folder);
  writeFileSync(mine, 'x');
  expect(await removeLeftIncoming(folder)).toBe(3);
  expect(existsSync(mine)).toBe(true);
  for (const name of others) expect(existsSync(at(name)), name).toBe(true);
  writeFileSync(at(left[0] as string), 'x');
  await (await startServer(folder)).close();
  expect(existsSync(at(left[0] as string))).toBe(false);
});

function cut(bytes: Uint8Array): Uint8Array {
  return bytes.subarray(0, Math.floor(bytes.length * 0.7));
}
