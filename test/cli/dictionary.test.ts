import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { contentHash } from '../../src/build/save.ts';
import { folderWith, wagtail } from '../build/folder.ts';
import { bywright, STACK_TRACE } from './bywright.ts';

const TABLE = [
  'Frame;CAN ID;DLC;Signal;Startbit;Length;Byte order;Factor;Unit;Colour',
  'pedals;0x1A0;8;pressed;0;1;little;1;;red',
  'pedals;0x1A0;8;force;8;8;little;0,5;N;',
  '',
].join('\n');

const build = (more: Record<string, string> = {}) =>
  folderWith({ ...wagtail(), 'sheet.csv': TABLE, ...more });

describe('dictionary export', () => {
  test('an export and its import with --as-accepted give an empty build the same dictionary, with where it came from', () => {
    const folder = folderWith({});
    const out = join(folder, 'controller.arxml');
    expect(bywright('dictionary', 'export', 'demo', out, '--bus', 'controller').code).toBe(0);
    const bare = folderWith({
      'build.yaml': wagtail()['build.yaml'] as string,
      'buses.yaml': wagtail()['buses.yaml'] as string,
      'units.yaml': wagtail()['units.yaml'] as string,
    });
    const args = [
      'dictionary',
      'import',
      bare,
      out,
      '--bus',
      'chassis',
      '--file-bus',
      'controller',
      '--accept',
      '--as-accepted',
    ];
    const done = bywright(...args);
    expect(done.err).not.toMatch(STACK_TRACE);
    expect(done.code).toBe(0);
    const taken = parse(readFileSync(join(bare, 'dictionary/chassis.yaml'), 'utf8'));
    const demo = parse(readFileSync(resolve('demo/dictionary/controller.yaml'), 'utf8'));
    const source = `imported from controller.arxml (sha256 ${contentHash(readFileSync(out))})`;
    const withSource = (entry: { evidence?: object[] }) => ({
      ...entry,
      evidence: [...(entry.evidence ?? []), { text: source }],
    });
    for (const message of demo.messages) {
      message.signals = message.signals.map(withSource);
      if (message.counter) message.counter = withSource(message.counter);
      if (message.check) message.check = withSource(message.check);
    }
    expect(taken.messages).toEqual(demo.messages);
  });

  test('slips are told in one sentence, and nothing is written', () => {
    const folder = build();
    const slips: [string[], RegExp][] = [
      [
        ['export', folder, join(folder, 'x.doc')],
        /the ending ".doc" names no format of message definitions; right would be .csv/,
      ],
      [
        ['export', folder, join(folder, 'dictionary/chassis.yaml'), '--bus', 'chassis'],
        /is a file of a build: nothing was written/,
      ],
      [
        ['import', folder, join(folder, 'sheet.csv'), '--bus', 'chassis', '--columns', 'colour=A'],
        /names no column/,
      ],
    ];
    const before = readdirSync(folder);
    for (const [args, sentence] of slips) {
      const seen = bywright('dictionary', ...args);
      expect(seen.code).toBe(2);
      expect(seen.err).toMatch(sentence);
      expect(seen.err).not.toMatch(STACK_TRACE);
    }
    expect(readdirSync(folder)).toEqual(before);
  });
});

describe('dictionary import', () => {
  test('shows what it understood and would do; --accept takes it in as proposed, with the file it came from', () => {
    const folder = build();
    const file = join(folder, 'dictionary/chassis.yaml');
    const before = readFileSync(file, 'utf8');
    const seen = bywright('dictionary', 'import', folder, join(folder, 'sheet.csv'), '--bus', 'chassis');
    expect(seen.code).toBe(0);
    expect(seen.out).toContain('start bit: column E "Startbit"');
    expect(seen.out).toContain('columns left out: Colour');
    expect(seen.out).toMatch(/added +pedals \(1A0\) +message +2 signals/);
    expect(seen.out).toContain(
      'Nothing was written. With --accept, 1 entry would go into dictionary/chassis.yaml; signals as proposed.',
    );
    expect(readFileSync(file, 'utf8')).toBe(before);
    const done = bywright(
      'dictionary',
      'import',
      folder,
      join(folder, 'sheet.csv'),
      '--bus',
      'chassis',
      '--accept',
    );
    expect(done.code).toBe(0);
    const text = readFileSync(file, 'utf8');
    // Comments and spelling of what was there stay.
    expect(text.startsWith(before.trimEnd())).toBe(true);
    expect(text).toMatch(/id: 0x1A0/);
    const source = `imported from sheet.csv (sha256 ${contentHash(TABLE)})`;
    expect(parse(text).messages.at(-1)).toEqual({
      name: 'pedals',
      id: 0x1a0,
      length: 8,
      signals: [
        {
          name: 'pressed',
          start: 0,
          length: 1,
          byte_order: 'little',
          state: 'proposed',
          evidence: [{ text: source }],
        },
        {
          name: 'force',
          start: 8,
          length: 8,
          byte_order: 'little',
          scale: 0.5,
          unit: 'N',
          state: 'proposed',
          evidence: [{ text: source }],
        },
      ],
    });
  });

  test('rows that do not fit and open questions keep it from writing until a person says what is meant', () => {
    const folder = build({
      'bad.csv': `${TABLE}pedals;0x1A0;8;too long;0;99;little;1;;\n`,
      'open.csv': 'id,name,start,bits\n100,a,0,8\n',
    });
    const before = readFileSync(join(folder, 'dictionary/chassis.yaml'), 'utf8');
    const run = (file: string, ...more: string[]) =>
      bywright('dictionary', 'import', folder, join(folder, file), '--bus', 'chassis', '--accept', ...more);
    const bad = run('bad.csv');
    expect(bad.code).toBe(1);
    expect(bad.out).toContain('does not fit: line 4, column F "Length": found "99"; expected 1 to 64 bits.');
    expect(bad.out).toContain('Nothing was written: mend what does not fit (1 place)');
    const open = run('open.csv');
    expect(open.code).toBe(1);
    expect(open.out).toMatch(/question: identifiers such as "100" can be decimal or hexadecimal/);
    expect(open.out).toContain('Nothing was written: answer what is asked above first (2 questions).');
    expect(readFileSync(join(folder, 'dictionary/chassis.yaml'), 'utf8')).toBe(before);
    expect(run('bad.csv', '--leave-misfits').out).toContain('Written: dictionary/chassis.yaml, 1 entry');
    expect(existsSync(join(folder, 'dictionary/chassis.yaml'))).toBe(true);
  });
});
