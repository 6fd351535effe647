import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import type { FileHandle } from 'node:fs/promises';
import { join } from 'node:path';
import { PassThrough } from 'node:stream';
import { describe, expect, onTestFinished, test } from 'vitest';
import { readCaptureFile } from '../../../src/build/captureFile.ts';
import {
  type Listened,
  Listening,
  type ListenOptions,
  listeningNow,
  parseSource,
} from '../../../src/build/listen/index.ts';
import type { RecordingDisk } from '../../../src/build/listen/recording.ts';
import { loadBuild } from '../../../src/build/load.ts';
import { pcap } from '../../../src/capture/formats/pcap.ts';
import { pcapng } from '../../../src/capture/formats/pcapng.ts';
import { captureOf, frame, framesOf, written } from '../../capture/frames.ts';
import { bareBuild, numbered, pause, removed, START_NS } from './child.ts';

interface Run {
  folder: string;
  input: PassThrough;
  stop: AbortController;
  told: string[];
  listening: Listening;
}

async function begin(more: Partial<ListenOptions> = {}, source = '-', build?: string): Promise<Run> {
  const folder = build ?? bareBuild();
  if (build === undefined) onTestFinished(() => removed(folder));
  const input = new PassThrough();
  const stop = new AbortController();
  const told: string[] = [];
  const listening = await Listening.start(folder, parseSource(source), {
    name: 'run',
    input,
    signal: stop.signal,
    tell: (text) => told.push(text),
    ...more,
  });
  return { folder, input, stop, told, listening };
}

const frames = (count: number, fromMs = 0) =>
  captureOf(
    Array.from({ length: count }, (_, i) => frame(START_NS + BigInt((fromMs + i) * 1e6), 0x1a0, [i])),
  );
const kept = async (folder: string, name = 'run') =>
  framesOf((await readCaptureFile(join(folder, 'captures', `${name}.pcapng`))).capture);

/** Fulfilled when the cue sheet holds these words. */
async function sheetHolds(folder: string, words: RegExp): Promise<void> {
  const path = join(folder, 'cues/run.yaml');
  while (!existsSync(path) || !words.test(readFileSync(path, 'utf8'))) await pause(10);
}

test('a stream is kept as pcapng, frame by frame, on the bus that was named', async () => {
  const { folder, input, listening } = await begin({ bus: 5 });
  input.end(written(pcap, frames(100)));
  expect(await listening.ended).toEqual({
    name: 'run.pcapng',
    frames: 100,
    seconds: expect.closeTo(0.099, 9),
    bytes: expect.any(Number),
    ended: 'end of stream',
    lost: 0,
    notes: [],
    cueSheet: null,
    cues: 0,
  } satisfies Listened);
  expect((await kept(folder)).map(({ bus }) => bus)).toEqual(Array(100).fill(5));
});

test('the file is complete while the recording runs', async () => {
  const { folder, input, stop, listening } = await begin();
  const { head, bytesOf } = numbered('pcap', 1e6);
  input.write(head);
  for (let n = 0; n < 30; n++) {
    input.write(bytesOf(n).subarray(0, 9));
    input.write(bytesOf(n).subarray(9));
    if (n % 10 !== 9) continue;
    await pause(30);
    expect(await kept(folder)).toHaveLength(n + 1);
  }
  stop.abort();
  expect(await listening.ended).toMatchObject({ frames: 30, ended: 'on request', lost: 0 });
});

test('what has been sent when the end is asked for is taken in', async () => {
  const { input, stop, listening } = await begin();
  const { head, bytesOf } = numbered('pcapng', 1e6);
  input.write(head);
  input.write(bytesOf(0));
  await pause(20);
  stop.abort();
  await pause(60);
  input.write(bytesOf(1));
  expect(await listening.ended).toMatchObject({ frames: 2, ended: 'on request' });
});

test('a stream that ends in the middle of a block keeps what came and counts what did not', async () => {
  const { folder, input, listening } = await begin();
  const bytes = written(pcapng, frames(10));
  input.end(bytes.subarray(0, bytes.length - 20));
  const done = await listening.ended;
  expect(done).toMatchObject({ frames: 9, lost: 28 });
  expect(done.notes[0]).toMatch(/ended in the middle of a block/);
  expect(await kept(folder)).toHaveLength(9);
});

test('a clock that goes back is told with the frame, and all frames are kept', async () => {
  const { folder, input, listening } = await begin();
  input.write(written(pcap, frames(5, 60_000)));
  input.end(written(pcap, frames(5)));
  const done = await listening.ended;
  expect(done.seconds).toBeNull();
  expect(done.notes).toEqual([
    expect.stringMatching(/^The stream began anew at byte 184, as pcap in nanoseconds \(as before\)/),
    'The clock of the stream went back by 60.0 s at frame 5: frames are kept as they came, with their stamps.',
  ]);
  expect(await kept(folder)).toHaveLength(10);
});

test('a clock that leaps far ahead is told with the frame, and all frames are kept', async () => {
  const { folder, input, listening } = await begin();
  const far = frames(5, 7_200_000);
  input.end(written(pcap, captureOf([...framesOf(frames(5)), ...framesOf(far)])));
  const done = await listening.ended;
  expect(done).toMatchObject({ frames: 10, seconds: null, lost: 0 });
  expect(done.notes).toEqual([
    'The clock of the stream leapt ahead by 7200.0 s at frame 5: frames are kept as they came, with their stamps.',
  ]);
  expect(await kept(folder)).toHaveLength(10);
});

describe('a stream that stalls', () => {
  const { head, bytesOf } = numbered('pcap', 1e6);
  /** Waits until the words were told. */
  const says = async ({ told }: Run, words: RegExp) => {
    while (!told.some((text) => words.test(text))) await pause(10);
  };

  test('in the middle of a record and goes on is kept whole; by the stamps nothing is missing', async () => {
    const run = await begin({ stallS: 0.4 });
    run.input.write(head);
    run.input.write(bytesOf(0));
    run.input.write(bytesOf(1).subarray(0, 20));
    await says(run, /^Nothing has come for \d s; still waiting\.$/);
    expect(await kept(run.folder)).toHaveLength(1);
    run.input.write(bytesOf(1).subarray(20));
    run.input.end(bytesOf(2));
    const done = await run.listening.ended;
    expect(done).toMatchObject({ frames: 3, lost: 0 });
    expect(run.told).toContainEqual(expect.stringMatching(/^After \d\.\d s the stream goes on\.$/));
    expect(done.notes).toEqual([
      expect.stringMatching(
        /^Nothing came for \d\.\d s after frame 0, and the next frame is 0\.00 s later by its stamp: frames were held back, none is missing by the stamps\.$/,
      ),
    ]);
    expect(await kept(run.folder)).toHaveLength(3);
  });

  test('and whose stamps go on later as well may have lost what the bus said meanwhile, and says so', async () => {
    const run = await begin({ stallS: 0.4 });
    run.input.write(head);
    run.input.write(bytesOf(0));
    await says(run, /^Nothing has come/);
    // Frames of one a millisecond: number 3000 is three seconds later.
    run.input.end(bytesOf(3000));
    const done = await run.listening.ended;
    expect(done.notes).toEqual([
      expect.stringMatching(
        /^Nothing came for \d\.\d s after frame 0, and the next frame is 3\.0 s later by its stamp: the bus was silent, or what it said meanwhile is missing\.$/,
      ),
    ]);
  });

  test('and begins anew with another clock says that nothing can be told from the stamps', async () => {
    const run = await begin({ stallS: 0.4 });
    run.input.write(head);
    run.input.write(bytesOf(60_000));
    await says(run, /^Nothing has come/);
    run.input.write(head);
    run.input.end(bytesOf(0));
    const done = await run.listening.ended;
    expect(done).toMatchObject({ frames: 2, seconds: null, lost: 0 });
    expect(done.notes).toEqual([
      expect.stringMatching(/^The stream began anew at byte/),
      expect.stringMatching(/the clock of the stream is another since, so what is missing cannot be told\.$/),
      expect.stringMatching(/^The clock of the stream went back by 60\.0 s at frame 1/),
    ]);
    expect(await kept(run.folder)).toHaveLength(2);
  });

  test('to its end says how long, and keeps what came before; half a record is counted as left out', async () => {
    const run = await begin({ stallS: 0.4 });
    run.input.write(head);
    run.input.write(bytesOf(0));
    run.input.write(bytesOf(1).subarray(0, 20));
    await says(run, /^Nothing has come/);
    run.input.end();
    const done = await run.listening.ended;
    expect(done).toMatchObject({ frames: 1, ended: 'end of stream', lost: 20 });
    expect(done.notes).toEqual([
      expect.stringMatching(/^The stream ended in the middle of a record, at byte \d+: the 20 bytes/),
      expect.stringMatching(
        /^Nothing came in the last \d\.\d s, after frame 0: what the bus said then is not in the recording\.$/,
      ),
    ]);
    expect(await kept(run.folder)).toHaveLength(1);
  });
});

test('senders at a socket are recorded one after another; what one sends wrongly ends only its stream', async () => {
  const { folder, stop, told, listening } = await begin({}, 'tcp:127.0.0.1:0');
  const { connect } = await import('node:net');
  const port = async () => {
    for (;;) {
      const words = told
        .map((text) => /Waiting for a sender at tcp:127\.0\.0\.1:(\d+)/.exec(text))
        .filter(Boolean);
      if (words.length > sent) return Number((words[0] as RegExpExecArray)[1]);
      await pause(5);
    }
  };
  let sent = 0;
  for (const bytes of [
    written(pcap, frames(4)),
    new TextEncoder().encode('hello there, no pcap at all'),
    written(pcapng, frames(6, 4)),
  ]) {
    const at = await port();
    sent++;
    await new Promise<void>((done) => connect(at, '127.0.0.1').end(bytes, () => done()));
  }
  await port();
  stop.abort();
  const done = await listening.ended;
  expect(done).toMatchObject({ frames: 10, ended: 'on request' });
  expect(done.notes).toEqual([
    expect.stringMatching(/^The sender was turned away\. The stream is neither pcap nor pcapng/),
  ]);
  expect(await kept(folder)).toHaveLength(10);
});

test('one sender at a time is recorded: a second one is turned away, at a Unix socket as well', async () => {
  const folder = bareBuild();
  onTestFinished(() => removed(folder));
  const path = join(folder, 'van.sock');
  const { connect } = await import('node:net');
  const { stop, told, listening } = await begin({}, `unix:${path}`, folder);
  while (!told.some((text) => text.includes(`Waiting for a sender at unix:${path}`))) await pause(5);
  expect(statSync(path).mode & 0o777).toBe(0o600);
  const first = connect(path);
  first.write(written(pcap, frames(3)));
  await pause(60);
  const second = connect(path);
  second.on('error', () => {});
  second.write(written(pcap, frames(50)));
  await new Promise<void>((done) => second.once('close', () => done()));
  stop.abort();
  expect(await listening.ended).toMatchObject({ frames: 3 });
  expect(told).toContain('A second sender was turned away: one at a time is recorded.');
  expect(existsSync(path)).toBe(false);
});

test('a socket that a killed listener left behind is taken over', async () => {
  const folder = bareBuild();
  onTestFinished(() => removed(folder));
  const path = join(folder, 'van.sock');
  const script = `require('net').createServer().listen(${JSON.stringify(path)}, () => process.kill(process.pid, 'SIGKILL'))`;
  spawnSync(process.execPath, ['-e', script]);
  expect(statSync(path).isSocket()).toBe(true);
  const { stop, told, listening } = await begin({}, `unix:${path}`, folder);
  while (told.length === 0) await pause(5);
  expect(told[0]).toMatch(/Waiting for a sender at unix:/);
  stop.abort();
  await expect(listening.ended).rejects.toThrow(/aborted/);
});

test('a full disk ends the recording with one sentence; whole blocks before it stay', async () => {
  let room = 700;
  const disk: RecordingDisk = {
    async append(file: FileHandle, bytes: Uint8Array) {
      const fits = bytes.subarray(0, room);
      await file.write(fits);
      room -= fits.length;
      if (fits.length < bytes.length) throw Object.assign(new Error('full'), { code: 'ENOSPC' });
    },
    sync: (file) => file.sync(),
  };
  const { folder, input, listening } = await begin({ disk });
  const { head, bytesOf } = numbered('pcap', 1e6);
  input.write(head);
  for (let n = 0; n < 40; n++) {
    input.write(bytesOf(n));
    await pause(1);
  }
  const done = await listening.ended;
  expect(done.ended).toBe('the disk refuses');
  expect(done.notes.at(-1)).toMatch(
    /the recording ends here, the disk is full: free some space; all before is kept\.$/,
  );
  expect(done.frames).toBeGreaterThan(5);
  expect(await kept(folder)).toHaveLength(done.frames);
  expect(statSync(join(folder, 'captures', 'run.pcapng')).size).toBe(done.bytes);
});

test('what came is on the disk within a second, so that a power cut loses no more', async () => {
  let synced = 0;
  let appended = 0;
  const late: number[] = [];
  const waiting: { upTo: number; since: number }[] = [];
  const disk: RecordingDisk = {
    async append(file, bytes) {
      await file.write(bytes);
      appended += bytes.length;
      waiting.push({ upTo: appended, since: performance.now() });
    },
    async sync(file) {
      const upTo = appended;
      await file.sync();
      synced = upTo;
      while (waiting[0] && waiting[0].upTo <= synced)
        late.push(performance.now() - (waiting.shift() as { since: number }).since);
    },
  };
  const { input, listening } = await begin({ disk });
  const { head, bytesOf } = numbered('pcap', 1e6);
  input.write(head);
  for (let n = 0; n < 70; n++) {
    input.write(bytesOf(n));
    await pause(10);
  }
  const before = late.length;
  input.end();
  await listening.ended;
  expect(before).toBeGreaterThan(10);
  expect(synced).toBe(appended);
  expect(Math.max(...late)).toBeLessThan(1000);
});

test('keys write a valid cue sheet at once, with times of the recording', async () => {
  const cues = new Map([
    ['b', 'brake pressed'],
    ['w', 'wiper on'],
  ]);
  const { folder, input, told, listening } = await begin({ cues });
  listening.press('b');
  expect(told.at(-1)).toMatch(/No frame has come yet/);
  const { head, bytesOf } = numbered('pcap', 1e6);
  input.write(head);
  input.write(bytesOf(0));
  await pause(30);
  listening.press('b');
  listening.press('x');
  await pause(150);
  await sheetHolds(folder, /still on/);
  const sheets = async () => {
    const { build, problems } = await loadBuild(folder);
    expect(problems.filter(({ file }) => file.startsWith('cues/'))).toEqual([]);
    return build?.cueSheets ?? [];
  };
  const [open] = await sheets();
  expect(open).toMatchObject({
    capture: 'run.pcapng',
    cues: [{ name: 'brake pressed', note: 'still on when this was written' }],
  });
  listening.press('w');
  await pause(40);
  listening.press('b');
  await pause(40);
  listening.press(' ');
  input.end();
  const done = await listening.ended;
  expect(done).toMatchObject({ cueSheet: 'cues/run.yaml', cues: 2 });
  const list = (await sheets())[0]?.cues ?? [];
  expect(list.map(({ name, note }) => [name, note])).toEqual([
    ['brake pressed', undefined],
    ['wiper on', undefined],
  ]);
  const [brake, wiper] = list as [(typeof list)[0], (typeof list)[0]];
  expect(brake.startS).toBeGreaterThan(0.01);
  expect(brake.endS - brake.startS).toBeGreaterThan(0.15);
  expect(wiper.startS).toBeGreaterThan(brake.startS);
  expect(wiper.endS).toBeGreaterThan(brake.endS);
});

test('a cue sheet that somebody else edits meanwhile is left to them: further cues go into one beside it', async () => {
  const { folder, input, told, listening } = await begin({ cues: new Map([['b', 'brake pressed']]) });
  const { head, bytesOf } = numbered('pcap', 1e6);
  input.write(head);
  input.write(bytesOf(0));
  await pause(30);
  listening.press('b');
  listening.press('b');
  await sheetHolds(folder, /end_s: \d.*\n$/);
  const theirs = `${readFileSync(join(folder, 'cues/run.yaml'), 'utf8')}# mine\n`;
  writeFileSync(join(folder, 'cues/run.yaml'), theirs);
  listening.press('b');
  input.end();
  expect(await listening.ended).toMatchObject({ cueSheet: 'cues/run-2.yaml' });
  expect(readFileSync(join(folder, 'cues/run.yaml'), 'utf8')).toBe(theirs);
  expect((await loadBuild(folder)).build?.cueSheets.map(({ cues }) => cues.length)).toEqual([1, 1]);
  expect(told.at(-1)).toMatch(/changed by someone else.*further cues go into cues\/run-2\.yaml/);
});

test('other processes can see that a recording runs, and that it is over', async () => {
  const { folder, input, listening } = await begin();
  input.write(written(pcap, frames(7)));
  while ((await listeningNow(folder, Date.now()))[0]?.frames !== 7) await pause(50);
  expect(await listeningNow(folder, Date.now())).toEqual([
    expect.objectContaining({
      name: 'run.pcapng',
      frames: 7,
      buses: [expect.objectContaining({ bus: 0, ids: 1 })],
    }),
  ]);
  expect(await listeningNow(folder, Date.now() + 6000)).toEqual([]);
  input.end();
  await listening.ended;
  expect(await listeningNow(folder, Date.now())).toEqual([]);
});

describe('nothing is left where nothing was recorded:', () => {
  test.each<[string, (run: Run) => void, RegExp]>([
    [
      'an empty stream',
      ({ input }) => input.end(),
      /no frame came, so nothing was kept; check that the interface is up/,
    ],
    ['a header without frames', ({ input }) => input.end(numbered('pcap', 1).head), /no frame came/],
    ['a stream of text', ({ input }) => input.end('t,bus,id,data\n'), /neither pcap nor pcapng/],
    [
      'half a header',
      ({ input }) => input.end(numbered('pcap', 1).head.subarray(0, 9)),
      /no frame came.*ended after 9 bytes/,
    ],
    ['Ctrl-C before the first frame', ({ stop }) => stop.abort(), /aborted/],
  ])('%s', async (_, act, sentence) => {
    const run = await begin();
    act(run);
    await expect(run.listening.ended).rejects.toThrow(sentence);
    expect(existsSync(join(run.folder, 'captures', 'run.pcapng'))).toBe(false);
  });
});

test('time that is up ends the recording', async () => {
  const { input, listening } = await begin({ seconds: 0.2 });
  input.write(written(pcap, frames(3)));
  expect(await listening.ended).toMatchObject({ frames: 3, ended: 'time is up' });
});

test('a taken name, a name that is a path and a folder that is no build are refused; names by time are free', async () => {
  const run = await begin();
  const again = begin({}, '-', run.folder);
  await expect(again).rejects.toThrow(/this name is taken; choose another with --name, nothing was changed/);
  await expect(begin({ name: '../x' }, '-', run.folder)).rejects.toThrow(
    /"\.\.\/x" is no name for a recording/,
  );
  await expect(begin({}, '-', join(run.folder, 'captures'))).rejects.toThrow(/no build\.yaml there/);
  const two = [
    await begin({ name: undefined }, '-', run.folder),
    await begin({ name: undefined }, '-', run.folder),
  ];
  expect(new Set(two.map(({ listening }) => listening.name)).size).toBe(2);
  for (const { input, listening } of [run, ...two]) {
    input.end(written(pcap, frames(1)));
    await listening.ended;
  }
});

describe('a source that is none is refused with what would be right:', () => {
  test.each([
    ['eth0', /"eth0" is no source: right would be - \(standard input\), tcp:127\.0\.0\.1:9000 or unix:PATH/],
    ['tcp:192.168.1.5:9000', /192\.168\.1\.5 is not this computer alone.*ssh -R 9000/],
    ['tcp:127.0.0.1:99999', /is no source/],
    ['unix:', /is no source/],
  ])('%s', (text, sentence) => expect(() => parseSource(text)).toThrow(sentence));
});
