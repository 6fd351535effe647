import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, describe, expect, test } from 'vitest';
import { commands } from '../../src/cli/commands/index.ts';
import { bywright } from './bywright.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright cli '));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

/** 400 frames of one message: a number, a counter 0 … 15 and an exclusive-or check. */
function recording(): string {
  const lines = ['t,bus,id,ext,data'];
  for (let i = 0; i < 400; i++) {
    const value = Math.round(2000 + 900 * Math.sin(i / 20));
    const bytes = [value & 255, value >> 8, i & 15, ((i * i * 37) >> 3) & 255];
    bytes.push(bytes.reduce((a, b) => a ^ b, 0));
    lines.push(
      `${(i * 0.01).toFixed(6)},0,1A2,0,${bytes.map((b) => b.toString(16).padStart(2, '0')).join('')}`,
    );
  }
  return `${lines.join('\n')}\n`;
}

test('every command has a description, a --help option and an example', () => {
  for (const make of commands) {
    const command = make();
    let help = '';
    command.configureOutput({ writeOut: (text) => (help += text) });
    command.outputHelp();
    expect(command.description(), command.name()).not.toBe('');
    expect(help, command.name()).toContain('--help');
    expect(help.match(/Examples?:\n {2}bywright /g), command.name()).toHaveLength(1);
  }
});

test('find --senders says which messages are sent from one clock, and why the others are not placed', () => {
  const { code, out, err } = bywright('find', file('senders.csv', twoClocks()), '--senders');
  expect(code).toBe(0);
  expect(err).toMatch(/4 of 5 messages placed/);
  expect(out).toMatch(/4 placed messages from 2 units/);
  expect(out).toMatch(/100 10 .*, 101 20 /);
  expect(out).toMatch(/200 10 .*, 201 20 /);
  expect(out).toMatch(/300: Not enough to tell: 3 frames/);
});

/** Two units 80 ppm apart with two messages each, and one message that was sent three times. */
function twoClocks(): string {
  const frames = [0, 8e-5].flatMap((skew, unit) =>
    [0.01, 0.02].flatMap((period, k) =>
      Array.from({ length: 20 / period }, (_, n) => ({
        t: 0.002 + 0.003 * unit + 0.0005 * k + n * period * (1 + skew),
        id: `${unit + 1}0${k}`,
      })),
    ),
  );
  for (const t of [1.2, 7.7, 13.1]) frames.push({ t, id: '300' });
  frames.sort((a, b) => a.t - b.t);
  return `t,bus,id,ext,data\n${frames.map(({ t, id }) => `${t.toFixed(6)},0,${id},0,00`).join('\n')}\n`;
}

test('find prints the form findings/1 and nothing else on standard output', () => {
  const path = file('recording.csv', recording());
  const { code, out } = bywright('find', path, '--json');
  expect(code).toBe(0);
  const form = JSON.parse(out);
  expect(form.form).toBe('findings/1');
  expect(form.messages).toHaveLength(1);
  expect(form.messages[0]).toMatchObject({ bus: 0, id: '1A2', ext: 0, counter: { start: 16, length: 4 } });
  expect(form.messages[0].check).toMatchObject({
    start: 32,
    length: 8,
    algorithm: 'xor',
    covers: [0, 1, 2, 3],
  });
});

test('a build is started, checked and given a recording, and each step says what is still missing', () => {
  const build = join(folder, 'my van');
  expect(bywright('new', build, '--title', 'Trial').code).toBe(0);
  const checked = bywright('check', build);
  expect(checked.code).toBe(1);
  expect(checked.out).toMatch(/build\.yaml:\d+:\d+: host\.mass_kg: /);
  const again = bywright('new', build);
  expect(again.code).toBe(2);
  const path = file('monday.csv.gz', gzipSync(recording()));
  expect(bywright('import', build, path).code).toBe(0);
  expect(readdirSync(join(build, 'captures'))).toContain('monday.pcapng');
  const twice = bywright('import', build, path);
  expect(twice.code).toBe(2);
  expect(twice.err).toContain('monday.pcapng');
});

describe('bad input gives one sentence, exit code 2 and no stack trace', () => {
  const cases: [string, () => string[], RegExp][] = [
    ['a command that is not there', () => ['fnid', 'x'], /did you mean find/i],
    ['an option that is not there', () => ['find', '--colums', 'x', 'y'], /--columns/],
    ['a file that is not there', () => ['find', join(folder, 'nothing.pcap')], /nothing\.pcap.*no such file/],
    ['a folder in place of a file', () => ['find', folder], /folder/],
    ['an empty file', () => ['find', file('empty.log', '')], /empty\.log/],
    [
      'junk',
      () => [
        'find',
        file(
          'junk.bin',
          new Uint8Array(4000).map((_, i) => (i * 7919) & 255),
        ),
      ],
      /junk\.bin/,
    ],
    [
      'half a gzip of nothing',
      () => ['find', file('half.gz', gzipSync(recording()).subarray(0, 12))],
      /half\.gz/,
    ],
    ['a folder that is no build', () => ['decode', folder, file('r.csv', recording())], /build\.yaml/],
    [
      'columns that do not exist',
      () => ['find', '--columns', 'time,colour', file('r2.csv', recording())],
      /colour/,
    ],
    ['a port that is none', () => ['open', 'demo', '--port', '99999', '--no-browser'], /99999/],
  ];
  test.each(cases)('%s', (_, args, sentence) => {
    const { code, err, out } = bywright(...args());
    expect(err).toMatch(sentence);
    expect(code).toBe(2);
    expect(`${err}${out}`).not.toMatch(/^\s+at .*[:(]\d+/m);
  });
});
