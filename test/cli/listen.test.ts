import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import {
  bareBuild,
  type Child,
  numbered,
  pause,
  removed,
  sender,
  startListen,
} from '../build/listen/child.ts';

let folder: string;
beforeAll(() => {
  folder = bareBuild();
});
afterAll(() => removed(folder));

const { head, bytesOf } = numbered('pcap', 1e6);

async function feed(child: Child, count: number): Promise<void> {
  await child.says(/Recording into/);
  child.process.stdin.write(head);
  for (let n = 0; n < count; n++) child.process.stdin.write(bytesOf(n));
}

test('Ctrl-C is the ordinary end of a recording: exit code 0, with what was kept in one line', async () => {
  const child = startListen(folder, '-', '--name', 'a', '--quiet');
  await feed(child, 12);
  while (!existsSync(join(folder, '.cache/listening/a.pcapng.json'))) await pause(50);
  child.process.kill('SIGINT');
  expect(await child.ended).toBe(0);
  expect(child.out()).toBe('captures/a.pcapng: 12 frames, 0.0 s; ended: on request\n');
  expect(child.err()).toBe('Recording into captures/a.pcapng; Ctrl-C ends it.\n');
});

test('Ctrl-C before any frame is work given up: exit code 3, and no file is left', async () => {
  const child = startListen(folder, '-', '--name', 'b');
  await feed(child, 0);
  child.process.kill('SIGINT');
  expect(await child.ended).toBe(3);
  expect(existsSync(join(folder, 'captures/b.pcapng'))).toBe(false);
});

test('a stream cut short is kept up to there: exit code 1, told in JSON', async () => {
  const child = startListen(folder, '-', '--name', 'c', '--json');
  await feed(child, 5);
  child.process.stdin.end(bytesOf(5).subarray(0, 20));
  expect(await child.ended).toBe(1);
  expect(JSON.parse(child.out())).toMatchObject({
    form: 'listened/1',
    name: 'c.pcapng',
    frames: 5,
    lost: 20,
  });
});

test('keys put cues while a sender is connected: pressing toggles, space ends all', async () => {
  const child = startListen(
    folder,
    'tcp:127.0.0.1:0',
    '--name',
    'd',
    '--cue',
    'b=brake pressed',
    '--cue',
    'w=wiper on',
  );
  const socket = await sender(child);
  socket.write(head);
  socket.write(bytesOf(0));
  await pause(300);
  child.process.stdin.write('bw');
  await child.says(/started: wiper on/);
  child.process.stdin.write(' ');
  await child.says(/ended: brake pressed, wiper on/);
  socket.end();
  child.process.stdin.write('\x03');
  expect(await child.ended).toBe(0);
  const sheet = readFileSync(join(folder, 'cues/d.yaml'), 'utf8');
  expect(sheet.match(/- name: .*/g)).toEqual(['- name: brake pressed', '- name: wiper on']);
});

test('a wrong option is told with what would be right', async () => {
  const cases: [string[], RegExp][] = [
    [['-', '--cue', 'bb'], /right would be one key, = and a name/],
    [['-', '--cue', 'b=x', '--cue', 'b=y'], /the key b is bound to "x" already/],
    [['-', '--bus', '1.5'], /--bus 1\.5: right would be a number from 0 to 255/],
  ];
  await Promise.all(
    cases.map(async ([args, sentence]) => {
      const child = startListen(folder, ...args);
      expect(await child.ended).toBe(2);
      expect(child.err()).toMatch(sentence);
    }),
  );
});
