import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readCaptureFile } from '../../src/build/captureFile.ts';
import { text } from '../../src/capture/formats/text.ts';
import { pickFrames, selectFrames } from '../../src/capture/select.ts';
import { wagtail } from '../build/folder.ts';
import { captureOf, differences, frame, written } from '../capture/frames.ts';
import { bywright } from './bywright.ts';

const CAPTURE = captureOf(
  Array.from({ length: 400 }, (_, n) =>
    frame(n * 10_000_000, n % 2 ? 0x0c4 : 0x0e5, [n & 255, 1, 2, 3, 4, 5, 6, 7], { bus: n % 4 ? 0 : 1 }),
  ),
);

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'bywright-store-'));
  const cues = 'form: cues/1\ncapture: a.csv\ncues:\n  - {name: brake, start_s: 1, end_s: 2.5}\n';
  const files = { ...wagtail(), 'cues/a.yaml': cues, 'captures/a.csv': written(text, CAPTURE) };
  for (const [name, content] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), content);
  }
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('query', () => {
  const SQL = 'select bus, count(*) as n, null as nothing from frames group by bus order by bus';

  test('a query is answered as a table, as CSV and as JSON', () => {
    const json = bywright('query', folder, SQL, '--json');
    expect([json.code, JSON.parse(json.out)]).toEqual([
      0,
      {
        form: 'rows/1',
        columns: [
          { name: 'bus', type: 'VARCHAR' },
          { name: 'n', type: 'BIGINT' },
          { name: 'nothing', type: 'INTEGER' },
        ],
        rows: [
          ['chassis', 300, null],
          ['control', 100, null],
        ],
      },
    ]);
    expect(bywright('query', folder, SQL, '--csv').out).toBe('bus,n,nothing\nchassis,300,\ncontrol,100,\n');
    expect(bywright('query', folder, SQL).out).toMatch(
      /^bus +n +nothing\n─.*\nchassis +300 +–\ncontrol +100 +–\n\n2 rows\n$/,
    );
  });

  test('a mistake in the SQL ends with code 2 and one sentence', () => {
    const { code, out, err } = bywright('query', folder, 'select x from cues');
    expect([code, out]).toEqual([2, '']);
    expect(err).toMatch(
      /^bywright: SQL column 8: Referenced column "x" not found in FROM clause; near: [^\n]+\n$/,
    );
  });
});

describe('export', () => {
  test('a selection is written in the format of the ending and read back equal', async () => {
    const out = join(folder, 'part.parquet');
    const done = bywright(
      'export',
      folder,
      'a.csv',
      out,
      '--bus',
      'chassis',
      '--cue',
      'brake',
      '--to',
      '2',
      '--json',
    );
    const wanted = pickFrames(CAPTURE, selectFrames(CAPTURE, { buses: [0], fromS: 1, toS: 2 }));
    expect([done.code, JSON.parse(done.out)]).toEqual([
      0,
      { form: 'exported/1', capture: join(folder, 'captures', 'a.csv'), out, frames: wanted.count, of: 400 },
    ]);
    expect(wanted.count).toBe(75);
    expect(differences((await readCaptureFile(out)).capture, wanted)).toEqual([]);
  });

  test('a recording is not written over, and nothing is written where nothing fits', () => {
    const original = readFileSync(join(folder, 'captures/a.csv'));
    const over = bywright('export', folder, 'a.csv', join(folder, 'captures/a.csv'), '--id', '0C4');
    expect([over.code, over.out]).toEqual([2, '']);
    expect(over.err).toContain('is the recording that is read: nothing was written');
    expect(readFileSync(join(folder, 'captures/a.csv')).equals(original)).toBe(true);
    const none = bywright('export', folder, 'a.csv', join(folder, 'none.csv'), '--from', '99');
    expect(none.code).toBe(2);
    expect(none.err).toContain('nothing was written');
    expect(() => readFileSync(join(folder, 'none.csv'))).toThrow();
  });
});
