import { appendFileSync } from 'node:fs';
import { join } from 'node:path';
import { PassThrough } from 'node:stream';
import { expect, test } from 'vitest';
import { Listening, type ListeningStatus } from '../../src/build/listen/index.ts';
import { folderMark } from '../../src/server/watch.ts';
import { numbered } from '../build/listen/child.ts';
import { events, served } from './serve.ts';

test('pages hear each second what is being recorded, and once when it is over; a growing file is no change', async () => {
  const server = await served();
  const lists = (all: { event: string; data: Record<string, unknown> }[]) =>
    all
      .filter(({ event }) => event === 'listening')
      .map(({ data }) => data['recordings'] as ListeningStatus[]);
  const seen = events(server, (all) => lists(all).some((list) => list.length === 0));
  const input = new PassThrough();
  const listening = await Listening.start(
    server.folder,
    { kind: 'standard input' },
    { name: 'run', input, signal: new AbortController().signal, tell: () => {} },
  );
  const { head, bytesOf } = numbered('pcap', 1e6);
  input.write(head);
  for (let n = 0; n < 9; n++) input.write(bytesOf(n));
  const running = events(server, (all) => lists(all).some((list) => list.length === 1));
  const [recording] = lists(await running).find((list) => list.length === 1) as [ListeningStatus];
  expect(recording).toMatchObject({
    name: 'run.pcapng',
    frames: 9,
    openCues: [],
    buses: [{ bus: 0, ids: 5 }],
  });
  const mark = await folderMark(server.folder);
  input.write(bytesOf(9));
  appendFileSync(join(server.folder, 'captures', 'run.pcapng'), '');
  await new Promise((done) => setTimeout(done, 50));
  expect(await folderMark(server.folder)).toBe(mark);
  input.end();
  await listening.ended;
  expect(await folderMark(server.folder)).not.toBe(mark);
  expect(lists(await seen).at(-1)).toEqual([]);
});
