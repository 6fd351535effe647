/** What every slip of the hand gets: one sentence with what, where and what would be right, and nothing half-written. */
import { spawnSync } from 'node:child_process';
import {
  cpSync,
  linkSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { hostname, tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, describe, expect, test } from 'vitest';
import { bywright, STACK_TRACE, started } from './bywright.ts';

const folder = mkdtempSync(join(tmpdir(), 'bywright bad input ä '));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const at = (name: string) => join(folder, name);

function file(name: string, content: string | Uint8Array): string {
  writeFileSync(at(name), content);
  return at(name);
}

/** Frames of one message that counts, every 10 ms. */
function csv(frames: number, change: (line: string, i: number) => string = (line) => line): string {
  const lines = Array.from({ length: frames }, (_, i) =>
    change(`${(i * 0.01).toFixed(6)},0,1A2,0,${(i & 255).toString(16).padStart(2, '0')}00ff`, i),
  );
  return `t,bus,id,ext,data\n${lines.join('\n')}\n`;
}

/** A pcap header of this link type, then the bytes given. */
function pcap(linkType: number, ...rest: number[]): Uint8Array {
  const head = Uint32Array.of(0xa1b2c3d4, 0x0004_0002, 0, 0, 65_535, linkType);
  return new Uint8Array([...new Uint8Array(head.buffer), ...rest]);
}

/** A copy of the demo build's text files. */
function demoBuild(name: string): string {
  cpSync(resolve('demo'), at(name), {
    recursive: true,
    filter: (path) => !/[\\/](captures|evidence|out|generator|\.cache)$/.test(path),
  });
  return at(name);
}

const newBuild = (name: string) => {
  expect(bywright('new', at(name)).code).toBe(0);
  return at(name);
};

function lines(text: string): string[] {
  return text.split('\n').filter((line) => line !== '');
}

describe('recordings', () => {
  test('of many recordings, each bad one gets one sentence, the others are kept, and nothing else is left', () => {
    const build = newBuild('van');
    mkdirSync(at('folder.csv'));
    symlinkSync('loop.csv', at('loop.csv'));
    const bad: [path: string, sentence: RegExp][] = [
      [at('nothing.csv'), /there is no such file/],
      [at('folder.csv'), /this is a folder; a recording is a file/],
      [at('loop.csv'), /links lead in a circle/],
      [file('empty.pcapng', ''), /empty: 0 bytes/],
      [
        file('magic.pcapng', new Uint8Array([0x0b, 0x0d, 0x0d, 0x0a, 0, 0, 0, 0])),
        /neither like pcap nor like pcapng/,
      ],
      [
        file(
          'binary.csv',
          Uint8Array.from({ length: 4000 }, (_, i) => (i * 7919) & 255),
        ),
        /which no text holds/,
      ],
      [file('ethernet.pcap', pcap(1)), /link type at byte 20 is 1 .*right would be 227/],
      [
        file('absurd.pcap', pcap(227, 1, 0, 0, 0, 0, 0, 0, 0, 255, 255, 255, 255, 16, 0, 0, 0)),
        /at byte 24 claims 4294967295 bytes/,
      ],
      [file('short.pcap', pcap(227).slice(0, 10)), /has 24 bytes and the recording ends after 10/],
      [file('header.csv', 't,bus,id,ext,data\n'), /No frame was found.*right would be/],
      [
        file('letter.txt', 'Today I drove the van.\nIt was raining.\n'.repeat(20)),
        /Right would be columns such as/,
      ],
      [file('utf16.csv', Buffer.from(`\ufeff${csv(20)}`, 'utf16le')), /UTF-16.*save it as UTF-8/],
      [file('one-line.csv', '1'.repeat(200_000)), /Line 1 is longer than/],
      [file('stub.csv.gz', gzipSync(csv(400)).subarray(0, 20)), /gzip data ends too early, before anything/],
      [
        file(
          'far.csv',
          csv(30, (line) => line.replace('1A2,0', 'FFFFFFFF,1')),
        ),
        /No frame was found in 31 lines \(line 2 holds no identifier between 0 and 1FFFFFFF\)/,
      ],
    ];
    const half = gzipSync(
      csv(4000, (line, i) => line.replace('ff', ((i * i * 31) & 255).toString(16).padStart(2, '0'))),
    );
    const kept: [path: string, name: string, note: RegExp | null][] = [
      [file('cut.csv', csv(40).slice(0, -4)), 'cut.pcapng', /last line.*cut short/],
      [
        file('half.csv.gz', half.subarray(0, half.length / 2)),
        'half.pcapng',
        /ends too early: what was before the cut is kept/,
      ],
      [
        file(
          'back.csv',
          csv(40, (line, i) => (i === 20 ? line.replace(/^[^,]*/, '0.000000') : line)),
        ),
        'back.pcapng',
        /backwards/,
      ],
      [
        file(
          'mixed.csv',
          csv(40, (line, i) => line.replace(',0,', `,${['can0', 'body', '7'][i % 3]},`)),
        ),
        'mixed.pcapng',
        /Bus names/,
      ],
      [file('-dash ü.csv', csv(40)), '-dash ü.pcapng', null],
    ];

    const { code, out, err } = bywright(
      'import',
      '--json',
      build,
      ...[...bad, ...kept].map(([path]) => path),
    );

    expect(code).toBe(2);
    const said = lines(err).filter((line) => line.startsWith('bywright: '));
    expect(said).toHaveLength(bad.length);
    for (const [i, [path, sentence]] of bad.entries()) {
      expect(said[i]).toContain(`bywright: ${path}: `);
      expect(said[i]).toMatch(sentence);
    }
    expect(err).not.toMatch(STACK_TRACE);
    const form = JSON.parse(out);
    expect(form.refused.map((r: { file: string }) => r.file)).toEqual(bad.map(([path]) => path));
    expect(form.captures.map((c: { name: string }) => c.name)).toEqual(kept.map(([, name]) => name));
    for (const [i, [, , note]] of kept.entries()) {
      if (note) expect(form.captures[i].notes.join(' ')).toMatch(note);
    }
    expect(readdirSync(join(build, 'captures')).sort()).toEqual(
      ['README.txt', ...kept.map(([, name]) => name)].sort(),
    );
  });

  test.skipIf(process.platform === 'win32')('a recording can come through a pipe', () => {
    const line = 'cat "$1" | "$2" bin/bywright.mjs find --json /dev/stdin';
    const args = ['-c', line, 'sh', file('piped.csv', csv(400)), process.execPath];
    const { status, stdout } = spawnSync('sh', args, { encoding: 'utf8' });
    expect(status).toBe(0);
    expect(JSON.parse(stdout).frames).toBe(400);
  });

  test('a file whose name starts with a dash is explained, and ./ or -- in front of it works', () => {
    const { code, err } = bywright('find', '-dash.csv');
    expect(code).toBe(2);
    expect(err).toMatch(/unknown option '-dash\.csv'\n.*`bywright find --help`/);
    expect(bywright('find', '--', '-dash.csv').err).toMatch(/-dash\.csv: there is no such file/);
  });
});

describe('the files of a build', () => {
  test('each mistake is told once, with file, line, what was found and what would be right', () => {
    const build = demoBuild('wrong');
    const change = (path: string, edit: (text: string) => string | Uint8Array) => {
      const before = readFileSync(join(build, path), 'utf8');
      const after = edit(before);
      expect(after, path).not.toBe(before);
      writeFileSync(join(build, path), after);
    };
    change('build.yaml', (t) =>
      t.replace('host:', 'host:\n  mass_kg: 1.5 t\n  colour: red').replace('stage:', 'stage: bench\nstage:'),
    );
    change('buses.yaml', (t) => t.replace('    bit_rate_bps: 500000', '\tbit_rate_bps: 500000'));
    change('units.yaml', (t) => Buffer.from(t.replace('form: units/1', 'form: units/1 # für'), 'latin1'));
    change('bridge.yaml', (t) => t.replace('bridge/1', 'bridge/2'));
    change('guard.yaml', (t) =>
      t.replace('speed_max_mps: 14', 'speed_max_mps: 50 km/h').replace('release_ms', 'relase_ms'),
    );
    change(
      'dictionary/chassis.yaml',
      (t) =>
        `${t}bomb: [${'&a '}[x], *a]\nb: &b [${'*a,'.repeat(90)}]\nc: &c [${'*b,'.repeat(90)}]\nd: [${'*c,'.repeat(90)}]\n`,
    );
    change('dictionary/column.yaml', (t) => `${t}#${'x'.repeat(5_000_000)}\n`);
    change('dictionary/controller.yaml', (t) => `${t}deep: ${'['.repeat(20_000)}\n`);
    change('cues/bench-1.yaml', (t) => t.replace('start_s: 3,', 'start_s: later,'));
    const { code, out, err } = bywright('check', build);
    expect(code).toBe(1);
    expect(err).toBe('');
    const told = lines(out);
    const expected = [
      /^build\.yaml:\d+:\d+: .*"stage" a second time/,
      /^build\.yaml:\d+:\d+: host\.mass_kg: .*/,
      /^build\.yaml:\d+:\d+: host\.colour: found an unknown field "colour"/,
      /^buses\.yaml:\d+:\d+: found a tab at the start of the line; expected spaces/,
      /^units\.yaml:\d+:\d+: found a byte that is not UTF-8 \(0xfc\)/,
      /^bridge\.yaml:\d+:\d+: form: found "bridge\/2", a form from a newer version; expected "bridge\/1"/,
      /^guard\.yaml:\d+:\d+: budget\.speed_max_mps: found "50 km\/h"; expected the number alone, in m\/s: 13\.8889/,
      /^guard\.yaml:\d+:\d+: handover\.relase_ms: found an unknown field "relase_ms"; expected "release_ms"/,
      /^dictionary\/chassis\.yaml: found an alias .*grow too large; expected the value written out/,
      /^dictionary\/column\.yaml: found 4\.8 MB; expected a text file of at most 4 MB/,
      /^dictionary\/controller\.yaml:\d+:\d+: found lists or groups nested too deep/,
      /^cues\/bench-1\.yaml:\d+:\d+: cues\[0\]\.start_s: found "later"; expected a number of s/,
    ];
    for (const sentence of expected) {
      expect(
        told.filter((line) => sentence.test(line)),
        String(sentence),
      ).toHaveLength(1);
    }
    expect(out).not.toMatch(STACK_TRACE);
    const used = bywright('prove', build);
    expect(used.code).toBe(2);
    expect(used.err).toMatch(/^bywright: .*: \d+ problems in the build\n {2}/);
  });

  test('a folder that is no build is a slip of the command line: exit code 2', () => {
    for (const args of [
      ['check', at('nowhere')],
      ['check', file('file', '')],
      ['open', '--no-browser', folder],
      ['new', ''],
    ]) {
      const { code, err } = bywright(...args);
      expect(code, args.join(' ')).toBe(2);
      expect(lines(err)).toHaveLength(1);
    }
  });

  test('what a new build lacks is said in terms of what to do next', () => {
    const build = newBuild('bare');
    const figures: Record<string, string> = {
      name: 'test van',
      mass_kg: '1800',
      yaw_inertia_kgm2: '3000',
      wheelbase_m: '3',
      cg_to_front_m: '1.4',
      front_stiffness_n_per_rad: '100000',
      rear_stiffness_n_per_rad: '120000',
      steering_ratio: '16',
      width_m: '1.9',
      bit_rate_bps: '500000',
    };
    for (const name of ['build.yaml', 'buses.yaml']) {
      const filled = readFileSync(join(build, name), 'utf8').replace(
        /^( +)(\w+):( +#.*)$/gm,
        (line, indent, field, rest) =>
          figures[field] ? `${indent}${field}: ${figures[field]}${rest}` : line,
      );
      writeFileSync(join(build, name), filled);
    }
    const recording = file('any.csv', csv(40));
    const checked = bywright('check', build);
    expect(checked.out).toMatch(/nothing to mend.* 0 captures/);
    expect(checked.code).toBe(0);
    const sentences: [args: string[], code: number, sentence: RegExp][] = [
      [['decode', build, recording], 2, /no signal is accepted yet.*bywright open/],
      [
        ['bridge', build, recording, at('sent.pcapng')],
        2,
        /sends nothing.*neither bridge\.yaml nor guard\.yaml/,
      ],
      [['prove', build], 2, /there is no guard\.yaml.*demo\/guard\.yaml/],
      [['firmware', build, at('c')], 1, /no guard.*\n.*Give the build a guard\.yaml/],
      // The note in captures/ is no recording.
      [['run', build, '--no-serve'], 0, /Dossier/],
    ];
    for (const [args, code, sentence] of sentences) {
      const ran = bywright(...args);
      expect(ran.err).toMatch(sentence);
      expect(ran.code, args.join(' ')).toBe(code);
    }
    expect(readdirSync(folder)).not.toContain('sent.pcapng');
    expect(readdirSync(folder)).not.toContain('c');
  });
});

describe('results', () => {
  test('never replace the recording that they are made from, nor a file of a build', () => {
    const build = demoBuild('kept');
    const recording = file('recording.csv', csv(40));
    linkSync(recording, at('same.csv'));
    const files = [recording, join(build, 'build.yaml'), join(build, 'dictionary/column.yaml')];
    const before = files.map((path) => readFileSync(path, 'utf8'));
    for (const [args, sentence] of [
      [['bridge', build, recording, at('same.csv')], /is the recording that is read: nothing was written/],
      [['merge', recording, recording, recording], /is the recording that is read/],
      [['dossier', build, join(build, 'build.yaml')], /is a file of a build/],
      [['decode', build, recording, '--csv', join(build, 'dictionary/column.yaml')], /is a file of a build/],
      [['firmware', build, build, '--bench'], /holds files that are no project/],
    ] as [string[], RegExp][]) {
      const { code, err } = bywright(...args);
      expect(err).toMatch(sentence);
      expect(code, args.join(' ')).toBe(2);
    }
    expect(files.map((path) => readFileSync(path, 'utf8'))).toEqual(before);
  });

  test('a second writer waits, then says who writes and that nothing was saved', () => {
    const build = newBuild('locked');
    mkdirSync(join(build, '.cache'), { recursive: true });
    const holder = { pid: process.pid, host: hostname(), since: new Date().toISOString(), token: 'test' };
    writeFileSync(join(build, '.cache/lock'), JSON.stringify(holder));
    const { code, err } = bywright('import', build, file('late.csv', csv(40)));
    expect(code).toBe(2);
    expect(err).toMatch(new RegExp(`is being written by process ${process.pid} since .*nothing was saved`));
    expect(readdirSync(join(build, 'captures'))).toEqual(['README.txt']);
  });

  test('a reader that has seen enough and closes the pipe is no error', async () => {
    const { child, ended } = started(['check', demoBuild('piped')]);
    child.stdout?.destroy();
    const { code, err } = await ended;
    expect({ code, err }).toEqual({ code: 0, err: '' });
  });

  test.skipIf(process.platform !== 'linux')(
    'a full disk under standard output is told in one sentence',
    async () => {
      const full = openSync('/dev/full', 'w');
      const { ended } = started(['check', demoBuild('full')], { stdio: ['ignore', full, 'pipe'] });
      const { code, err } = await ended;
      expect(lines(err)).toEqual([
        'bywright: standard output: the disk is full; what was printed is not whole',
      ]);
      expect(code).toBe(2);
    },
  );
});
