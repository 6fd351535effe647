import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { cueCsv, parseCueCsv } from '../../src/build/cueCsv.ts';
import { loadBuild } from '../../src/build/load.ts';
import { problemSentence } from '../../src/build/problem.ts';
import { driveCsv } from '../server/serve.ts';
import { folderWith, wagtail } from './folder.ts';

const loaded = (files: Record<string, string>) =>
  loadBuild(folderWith({ ...wagtail(), 'captures/drive.csv': driveCsv(), ...files }));

describe('cue sheets in CSV', () => {
  test('are loaded as those in YAML, for the capture that the file or a column names', async () => {
    const { build, problems } = await loaded({
      'cues/drive.csv':
        'name,start_s,end_s,level,note\nbrake pressed,1,2,,"slow, then hard"\nwheel left,3,4,90,\n',
      'cues/more.csv': 'capture;name;start_s;end_s\ndrive.csv;horn;5,5;6,0\n',
    });
    expect(problems).toEqual([]);
    expect(build!.cueSheets).toEqual([
      {
        form: 'cues/1',
        capture: 'drive.csv',
        cues: [
          { name: 'brake pressed', startS: 1, endS: 2, note: 'slow, then hard' },
          { name: 'wheel left', startS: 3, endS: 4, level: 90 },
        ],
      },
      { form: 'cues/1', capture: 'drive.csv', cues: [{ name: 'horn', startS: 5.5, endS: 6 }] },
    ]);
  });

  test.each([
    [
      'drive',
      'name,start_s,end_s\nhorn,2,1\n',
      'cues/drive.csv:2:8: end_s: found 1 s; expected at least start_s, 2 s.',
    ],
    [
      'drive',
      'name,start_s,end_s\nhorn,x,1\n',
      'cues/drive.csv:2:6: start_s: found "x"; expected a number of seconds.',
    ],
    [
      'drive',
      'name,start_s,ends\nhorn,0,1\n',
      'cues/drive.csv:1:14: found a column "ends"; expected "end_s".',
    ],
    [
      'drvie',
      'name,start_s,end_s\nhorn,0,1\n',
      'cues/drvie.csv:2:1: capture: found "drvie", which is not there; expected a file in captures/: drive.csv.',
    ],
    [
      'drive',
      'name,start_s,end_s\nhorn,0,5\nhorn,2,6\n',
      'cues/drive.csv:3:6: start_s: found 2 s, while "horn" of line 2 lasts until 5 s',
    ],
    ['drive', '', 'cues/drive.csv: found an empty file'],
  ])('tell what is wrong with line and column: %s %j', async (name, text, sentence) => {
    const { problems } = await loaded({ [`cues/${name}.csv`]: text });
    expect(problems.map(problemSentence).filter((s) => s.startsWith(sentence))).toHaveLength(1);
  });

  test('give back the cues that were written', () => {
    const word = fc
      .string({ minLength: 1, maxLength: 12 })
      .map((s) => s.replace(/[\s\p{Cc}\ufeff]+/gu, ' ').trim())
      .filter(Boolean);
    const time = fc.double({ min: 0, max: 1e5, noNaN: true }).map((t) => Math.abs(t));
    const cue = fc.record({ name: word, startS: time, endS: time }).chain((c) =>
      fc
        .record({
          level: fc.option(fc.integer(), { nil: undefined }),
          note: fc.option(word, { nil: undefined }),
        })
        .map(({ level, note }) => ({
          ...c,
          ...(level !== undefined && { level }),
          ...(note !== undefined && { note }),
        })),
    );
    fc.assert(
      fc.property(fc.array(cue, { minLength: 1, maxLength: 8 }), (cues) => {
        const { tables, problems } = parseCueCsv('cues/x.csv', cueCsv(cues), 'x');
        expect(problems).toEqual([]);
        expect(tables[0]!.sheet.cues).toEqual(cues);
      }),
    );
  });

  test('never throw, whatever the text', () => {
    fc.assert(
      fc.property(fc.string(), (text) => {
        const { problems } = parseCueCsv('cues/x.csv', `name,start_s,end_s\n${text}`, 'x');
        for (const p of problems) expect(p.line).toBeGreaterThanOrEqual(0);
      }),
      { numRuns: 300 },
    );
  });
});
