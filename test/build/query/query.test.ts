import { existsSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { loadBuild } from '../../../src/build/load.ts';
import type { Build } from '../../../src/build/model.ts';
import type { SqlValue } from '../../../src/build/query/cells.ts';
import { query } from '../../../src/build/query/query.ts';
import { FLAG, formatId } from '../../../src/can/frame.ts';
import { storedLength } from '../../../src/capture/select.ts';
import type { Capture } from '../../../src/capture/store.ts';
import { decodeSignal, messageFrames } from '../../../src/dictionary/decode.ts';
import { captureOf, frame, framesArbitrary } from '../../capture/frames.ts';
import { folderWith, wagtail } from '../folder.ts';

const CUES = `form: cues/1
capture: a.csv
cues:
  - {name: driver's brake, start_s: 0.5, end_s: 1.25, level: 0.4}
  - {name: idle, start_s: 0, end_s: 0.25}
`;

const DRIVE = captureOf(
  Array.from({ length: 5000 }, (_, n) =>
    n % 2
      ? frame(n * 1_000_000, 0x0c4, [(n * 37) & 255, (n * 11) & 255, 0, 0, 0, 0, 0, 0])
      : frame(n * 1_000_000, 0x0e5, [n & 255, (n >> 5) & 255, (n * 7) & 255, n & 15, 0, 0, 0, 0]),
  ),
);

/** Loaded once: its captures are handed in, so that its folder may be gone. */
let loaded: Promise<Build> | null = null;
function wagtailBuild(): Promise<Build> {
  loaded ??= freshBuild(['a.csv']);
  return loaded;
}

async function freshBuild(captures: readonly string[]): Promise<Build> {
  const files = Object.fromEntries(captures.map((name) => [`captures/${name}`, '']));
  const folder = folderWith({ ...wagtail(), 'cues/a.yaml': CUES, ...files });
  const { build } = await loadBuild(folder);
  return build as Build;
}

/** All rows that the SQL gives over captures that are handed in, not read from disk. */
async function ask(build: Build, sql: string, captures: Record<string, Capture> = { 'a.csv': DRIVE }) {
  const result = await query(build, sql, { read: async (name) => captures[name] as Capture });
  const rows: SqlValue[][] = [];
  try {
    for await (const some of result.rows()) rows.push(...some);
  } finally {
    result.close();
  }
  return { columns: result.columns, rows };
}

function hexOf(capture: Capture, i: number): string {
  const from = capture.offset[i] as number;
  const bytes = capture.payload.subarray(from, from + storedLength(capture, i));
  return Buffer.from(bytes).toString('hex').toUpperCase();
}

describe('SQL over a build', () => {
  test('frames gives every frame of every capture, with the names of the build and as text', async () => {
    const build = await freshBuild(['a.csv', "b's.csv"]);
    await fc.assert(
      fc.asyncProperty(framesArbitrary('many'), framesArbitrary('many'), async (a, b) => {
        const captures = { 'a.csv': captureOf(a), "b's.csv": captureOf(b) };
        const { rows } = await ask(build, 'select * from frames', captures);
        const expected = Object.entries(captures).flatMap(([name, capture]) =>
          Array.from({ length: capture.count }, (_, i) => {
            const flags = capture.flags[i] as number;
            const bus = capture.bus[i] as number;
            return [
              name,
              capture.time[i],
              ['chassis', 'control'][bus] ?? String(bus),
              formatId(capture.id[i] as number, (flags & FLAG.extended) !== 0),
              flags & FLAG.extended,
              [...'RWFBET'].filter((_, k) => flags & (2 << k)).join(''),
              capture.length[i],
              hexOf(capture, i),
            ];
          }),
        );
        expect(rows).toEqual(expected);
      }),
      { numRuns: 5 },
    );
  });

  test('signals gives the values that decoding gives, each with its unit and whether it is believed', async () => {
    const build = await wagtailBuild();
    const { rows } = await ask(
      build,
      'select bus, message, signal, unit, t, value, believed from signals order by message desc, signal desc, t',
    );
    const chassis = build.dictionaries.find((d) => d.bus === 'chassis');
    const expected = (chassis?.messages ?? []).flatMap((message) =>
      message.signals.flatMap((signal) => {
        const series = decodeSignal(DRIVE, messageFrames(DRIVE, 0, message), message, signal);
        return Array.from(series.time, (t, i) => [
          'chassis',
          message.name,
          signal.name,
          signal.unit,
          t,
          series.value[i],
          series.valid[i] === 1,
        ]);
      }),
    );
    expected.sort((a, b) => {
      const [x, y] = [`${a[1]} ${a[2]}`, `${b[1]} ${b[2]}`];
      return x < y ? 1 : x > y ? -1 : 0;
    });
    expect(rows).toHaveLength(7500);
    expect(rows).toEqual(expected);
    expect(new Set(rows.map((row) => row[6]))).toEqual(new Set([true, false]));
  });

  test('cues gives the cue sheets, and can be joined with signals by capture and time', async () => {
    const build = await wagtailBuild();
    expect((await ask(build, 'select * from cues')).rows).toEqual([
      ['a.csv', "driver's brake", 0.5, 1.25, 0.4],
      ['a.csv', 'idle', 0, 0.25, null],
    ]);
    const { columns, rows } = await ask(
      build,
      `select c.name, count(*) as n from signals s join cues c
        on s.capture = c.capture and s.t >= c."start" and s.t < c."end" where s.signal = 'speed' group by all order by n`,
    );
    expect(columns).toEqual([
      { name: 'name', type: 'VARCHAR' },
      { name: 'n', type: 'BIGINT' },
    ]);
    expect(rows).toEqual([
      ['idle', 125],
      ["driver's brake", 375],
    ]);
  });

  test('only captures that the query needs are read', async () => {
    const build = await wagtailBuild();
    const never = { read: () => Promise.reject(new Error('read')) };
    const result = await query(build, 'select count(*) from cues', never);
    result.close();
    await expect(query(build, 'with f as (from frames) select count(*) from f', never)).rejects.toThrow(
      'read',
    );
    await expect(query(build, 'select (select count(*) from SIGNALS)', never)).rejects.toThrow('read');
  });

  test.each([
    ['selec 1', 'SQL column 1: syntax error at or near "selec".'],
    [
      'select idd from frames',
      'SQL column 8: Referenced column "idd" not found in FROM clause; near: id, data.',
    ],
    ['select t\nfrom frames\nwhere tt > 1', /^SQL line 3, column 7: Referenced column "tt" not found/],
    [
      "select 'für', x from cues",
      'SQL column 15: Referenced column "x" not found in FROM clause; near: capture.',
    ],
    ['select t from frame', 'SQL column 15: Table with name frame does not exist; near: frames.'],
    [
      'select cast(id as int) from frames',
      /^SQL column 8: Could not convert string '0[CE][45]' to INT32 when casting from source column id/,
    ],
    ['select 1; select 2', 'The SQL holds 2 statements: ask one query at a time.'],
    [' ', 'The SQL holds no statement: right would be, for example, select count(*) from frames.'],
    ['-- t', 'The SQL holds no statement: right would be, for example, select count(*) from frames.'],
    ['select ?', 'The SQL holds a place for a value ("?" or "$1"): write the value itself.'],
    [
      "insert into cues values ('a', 'b', 1, 2, 3)",
      /^This is no query but "insert": a build is only read here/,
    ],
    ['create table mine as select 1', /^This is no query but "create"/],
    ['set enable_external_access = true', /^(This is no query|SQL)/],
    ['load httpfs', /^This is no query but "load"/],
  ])('%j is answered with one sentence that says where', async (sql, words) => {
    const build = await wagtailBuild();
    const error: Error = await ask(build, sql).then(
      () => expect.fail('this should not be answered'),
      (e) => e,
    );
    expect(error.name).toBe('QueryError');
    expect(error.message).not.toContain('\n');
    if (typeof words === 'string') expect(error.message).toBe(words);
    else expect(error.message).toMatch(words);
  });

  test('a query reaches no file, in the build or outside', async () => {
    const build = await freshBuild(['a.csv']);
    const secret = join(build.folder, 'secret.csv');
    await writeFile(secret, 'a\n1\n');
    const target = join(build.folder, 'out.csv');
    for (const sql of [
      `select * from read_csv('${secret}')`,
      `select * from '${secret}'`,
      `select * from read_text('${secret}')`,
      `select * from glob('${build.folder}/*')`,
      `copy cues to '${target}'`,
      `attach '${target}'`,
      `select * from cues, read_blob('${secret}')`,
    ])
      await expect(ask(build, sql), sql).rejects.toThrow(/disabled by configuration|does not exist|no query/);
    expect(existsSync(target)).toBe(false);
  });

  test('a query that is stopped ends with the reason', async () => {
    const build = await wagtailBuild();
    const stop = new AbortController();
    stop.abort(new Error('enough'));
    await expect(
      query(build, 'select * from frames', { read: async () => DRIVE, signal: stop.signal }),
    ).rejects.toThrow('enough');
  });
});
