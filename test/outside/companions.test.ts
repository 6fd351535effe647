/**
 * Other readers and writers of pcap and pcapng agree with ours: libpcap by way of tcpdump, and the reader of tshark with its
 * companion editcap. Each is an independent implementation of the published formats; what they print is compared frame by frame.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { FLAG } from '../../src/can/frame.ts';
import { pcap } from '../../src/capture/formats/pcap.ts';
import { pcapng } from '../../src/capture/formats/pcapng.ts';
import { captureOf, type Frame, frame, framesOf, readBytes, written } from '../capture/frames.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright-companions-'));
afterAll(() => rmSync(folder, { recursive: true }));

const START = 1_700_000_000_123_456_789n;
const bytes = (count: number, from: number) => Array.from({ length: count }, (_, k) => (from + k * 7) & 255);

/** Frames of every kind, on two buses. */
const MIXED: Frame[] = [
  frame(START, 0x123, [1, 2, 3]),
  frame(START + 1n, 0x18fef121, bytes(8, 9), { flags: FLAG.extended, bus: 1 }),
  frame(START + 500_000_000n, 0x321, [], { flags: FLAG.remote, length: 4 }),
  frame(START + 600_000_000n, 0x7ff, bytes(12, 3), { flags: FLAG.fd | FLAG.bitRateSwitch }),
  frame(START + 600_000_001n, 0x0, [], { bus: 1 }),
  frame(START + 700_000_000n, 0x1fffffff, bytes(64, 5), {
    flags: FLAG.fd | FLAG.errorState | FLAG.extended,
    bus: 1,
  }),
  frame(START + 800_000_000n, 0x004, bytes(8, 0), { flags: FLAG.error }),
  frame(START + 900_000_000n, 0x100, bytes(5, 1), { flags: FLAG.sent, bus: 1 }),
];
/** One bus, in whole microseconds: what the plainest pcap can hold. */
const PLAIN: Frame[] = Array.from({ length: 500 }, (_, n) =>
  frame(
    1_700_000_000_000_000_000n + BigInt(n) * 251_000n,
    n % 3 ? 0x100 + n : 0xcf00400 + n,
    bytes(n % 9, n),
    {
      flags: n % 3 ? 0 : FLAG.extended,
    },
  ),
);
const FILES = [
  ['pcap', written(pcap, captureOf(PLAIN)), PLAIN],
  ['pcapng of one bus', written(pcapng, captureOf(PLAIN)), PLAIN],
  ['pcapng of two buses', written(pcapng, captureOf(MIXED)), MIXED],
] as const;

describe.skipIf(missing('tshark', 'tshark'))('tshark', () => {
  test.each(FILES)(
    'reads from our %s the times, identifiers, kinds, lengths and payloads that went in',
    (name, file, frames) => {
      const fields = [
        'frame.time_epoch',
        'can.id',
        'can.flags.xtd',
        'can.flags.rtr',
        'can.len',
        'data.data',
        'canfd.flags.brs',
        'canfd.flags.esi',
        'frame.interface_name',
      ];
      const args = [
        '-n',
        '-r',
        put('in', file),
        '-T',
        'fields',
        '-E',
        'separator=;',
        ...fields.flatMap((f) => ['-e', f]),
      ];
      const rows = run('tshark', args)
        .toString()
        .trimEnd()
        .split('\n')
        .map((line) => line.split(';'));
      expect(rows.length).toBe(frames.length);
      rows.forEach(([time, id, xtd, rtr, length, data, brs, esi, face], i) => {
        const f = frames[i] as Frame;
        expect(nanoseconds(time as string)).toBe(f.ns);
        if (name === 'pcapng of two buses') expect(face).toBe(`can${f.bus}`);
        if (f.flags & FLAG.error) return;
        const remote = (f.flags & FLAG.remote) !== 0;
        const fd = (f.flags & FLAG.fd) !== 0;
        expect({ id, xtd, length, rtr: fd ? '0' : rtr }).toEqual({
          id: String(f.id),
          xtd: f.flags & FLAG.extended ? '1' : '0',
          length: String(f.length),
          rtr: remote ? '1' : '0',
        });
        if (!remote) expect(data).toBe(Buffer.from(f.data).toString('hex'));
        expect([brs, esi]).toEqual(
          fd ? [f.flags & FLAG.bitRateSwitch ? '1' : '0', f.flags & FLAG.errorState ? '1' : '0'] : ['', ''],
        );
      });
    },
  );

  test('keeps the direction of a sent frame', () => {
    const args = [
      '-n',
      '-r',
      put('in', FILES[2][1]),
      '-Y',
      'frame.packet_flags_direction == 2',
      '-T',
      'fields',
      '-e',
      'frame.number',
    ];
    expect(run('tshark', args).toString().trim()).toBe('8');
  });
});

describe.skipIf(missing('editcap', 'tshark'))('editcap', () => {
  test.each([
    ['pcapng', MIXED, pcapng],
    ['nsecpcap', MIXED.map((f) => ({ ...f, bus: 0, flags: f.flags & ~FLAG.sent })), pcap],
    ['pcap', PLAIN, pcap],
  ] as const)('rewrites our pcapng as %s, and we read the same frames from it', (kind, frames, format) => {
    const from = put('from.pcapng', written(pcapng, captureOf(kind === 'pcap' ? PLAIN : MIXED)));
    const to = join(folder, `to.${kind}`);
    run('editcap', ['-F', kind, from, to]);
    const { capture, notes } = readBytes(format, readFileSync(to));
    expect(framesOf(capture)).toEqual(frames);
    expect(notes).toEqual([]);
  });
});

describe.skipIf(missing('tcpdump', 'tcpdump'))('tcpdump', () => {
  test.each(FILES)('prints from our %s the moments and the bytes that went in', (_, file, frames) => {
    const lines = run('tcpdump', ['-n', '-tt', '-xx', '--time-stamp-precision=nano', '-r', '-'], file)
      .toString()
      .split('\n');
    const printed: { ns: bigint; record: string }[] = [];
    for (const line of lines) {
      const time = /^(\d+\.\d{9}) /.exec(line)?.[1];
      const hex = /^\s+0x([0-9a-f]{4}):\s+((?:[0-9a-f]{2,4} ?)+)/.exec(line);
      if (time) printed.push({ ns: nanoseconds(time), record: '' });
      const last = printed.at(-1);
      // An unknown link type is dumped twice; the second dump starts at offset 0 again.
      if (hex && last && Number.parseInt(hex[1] as string, 16) * 2 === last.record.length) {
        last.record += (hex[2] as string).replaceAll(' ', '');
      }
    }
    expect(printed.map((p) => p.ns)).toEqual(frames.map((f) => f.ns));
    printed.forEach(({ record }, i) => {
      const f = frames[i] as Frame;
      const word =
        f.id +
        (f.flags & FLAG.extended ? 0x8000_0000 : 0) +
        (f.flags & FLAG.remote ? 0x4000_0000 : 0) +
        (f.flags & FLAG.error ? 0x2000_0000 : 0);
      const fd =
        f.flags & FLAG.fd
          ? 4 | (f.flags & FLAG.bitRateSwitch ? 1 : 0) | (f.flags & FLAG.errorState ? 2 : 0)
          : 0;
      const start =
        word.toString(16).padStart(8, '0') + Buffer.from([f.length, fd, 0, 0, ...f.data]).toString('hex');
      expect(record).toBe(start.padEnd(fd ? 144 : 32, '0'));
    });
  });

  test.each([
    ['micro', 'pcap', PLAIN],
    ['nano', 'pcapng of two buses', MIXED.map((f) => ({ ...f, bus: 0, flags: f.flags & ~FLAG.sent }))],
  ] as const)('rewrites in %sseconds, and we read the same frames from it', (precision, name, frames) => {
    const file = FILES.find(([n]) => n === name)?.[1] as Uint8Array;
    const out = run('tcpdump', [`--time-stamp-precision=${precision}`, '-r', '-', '-w', '-'], file);
    const { capture, guess } = readBytes(pcap, out);
    expect(framesOf(capture)).toEqual(frames);
    expect(guess).toContain(`${precision}seconds`);
  });
});

/** Whether the program is not there: says which package to install; under CI that is a failure. */
function missing(program: string, debianPackage: string): boolean {
  if (spawnSync(program, ['--version']).status === 0) return false;
  if (process.env.CI === 'true')
    throw new Error(`${program} is missing: install the Debian package ${debianPackage}`);
  console.log(`skipped: tests against ${program} need the Debian package ${debianPackage}`);
  return true;
}

function run(program: string, args: string[], input?: Uint8Array): Buffer {
  const done = spawnSync(program, args, { ...(input ? { input } : {}), maxBuffer: 1 << 28 });
  if (done.status !== 0) throw new Error(`${program} ${args.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

function put(name: string, content: Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

function nanoseconds(text: string): bigint {
  const [whole = '', rest = ''] = text.split('.');
  return BigInt(whole) * 1_000_000_000n + BigInt(rest.padEnd(9, '0'));
}
